package audit

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"hotday/models"
)

// The documents as the auditor reads them from JSON: the fields that rules need, in the units of package models. Fields that a document
// may lack are pointers, or zero.

type plan struct {
	ComputedAt   time.Time            `json:"computed_at"`
	From         models.Date          `json:"from"`
	Days         int                  `json:"days"`
	Summary      summary              `json:"summary"`
	Demand       []models.DemandRange `json:"demand"`
	Batches      []batch              `json:"batches"`
	Ice          icePlan              `json:"ice"`
	Water        []fill               `json:"water"`
	Mixes        []mix                `json:"mixes"`
	Tank         *tank                `json:"tank"`
	Pulls        []pull               `json:"pulls"`
	Stock        []models.StockPoint  `json:"stock"`
	Warnings     []warning            `json:"warnings"`
	Cautions     []string             `json:"cautions"`
	CautionCodes []string             `json:"caution_codes"`
	Expected     *expected            `json:"expected"`
	Left         []lotLeft            `json:"left"`
	Choices      []choice             `json:"choices"`
}

// choice is a batch that is left to the day.
type choice struct {
	ID       string         `json:"id"`
	Date     models.Date    `json:"date"`
	LookAt   time.Time      `json:"look_at"`
	Beverage string         `json:"beverage"`
	Options  []choiceOption `json:"options"`
	Default  int            `json:"default"`
	Saves    float64        `json:"saves"`
}

type choiceOption struct {
	BelowG *float64 `json:"below_g"`
	Batch  *batch   `json:"batch"`
	Chance float64  `json:"chance"`
}

type summary struct {
	Text          string  `json:"text"`
	Batches       int     `json:"batches"`
	BeverageG     float64 `json:"beverage_g"`
	DoseG         float64 `json:"dose_g"`
	DrinkIceG     float64 `json:"drink_ice_g"`
	TreatedWaterL float64 `json:"treated_water_l"`
	Servings      float64 `json:"servings"`
}

type batch struct {
	ID               string          `json:"id"`
	Date             models.Date     `json:"date"`
	Brewer           string          `json:"brewer"`
	Beverage         string          `json:"beverage"`
	Start            time.Time       `json:"start"`
	StrainAt         time.Time       `json:"strain_at,omitzero"`
	IceAt            time.Time       `json:"ice_at,omitzero"`
	Ready            time.Time       `json:"ready"`
	UseBy            time.Time       `json:"use_by"`
	DoseG            float64         `json:"dose_g"`
	BrewWaterG       float64         `json:"brew_water_g"`
	IceG             float64         `json:"ice_g"`
	BeverageG        float64         `json:"beverage_g"`
	BrewerOutTempC   float64         `json:"brewer_out_temp_c"`
	CoolToBeforeIceC *float64        `json:"cool_to_before_ice_c"`
	CoolingMin       *float64        `json:"cooling_min"`
	BathIceG         float64         `json:"bath_ice_g"`
	BathFromDrinksG  float64         `json:"bath_from_drinks_g"`
	ExpectedTDSPct   float64         `json:"expected_tds_pct"`
	ExpectedYieldPct float64         `json:"expected_yield_pct"`
	IceTempC         float64         `json:"ice_temp_c"`
	IceWetShare      float64         `json:"ice_wet_share"`
	FinalTempC       float64         `json:"final_temp_c"`
	RetainedG        float64         `json:"retained_g"`
	DissolvedG       float64         `json:"dissolved_g"`
	Lots             []models.LotUse `json:"lots"`
	State            string          `json:"state"`
	Choice           string          `json:"choice"`
	Cautions         []string        `json:"cautions"`
	CautionCodes     []string        `json:"caution_codes"`
}

type icePlan struct {
	Quotas          []quota           `json:"quotas"`
	Checks          []quota           `json:"checks"`
	WellFills       []wellFill        `json:"well_fills"`
	Levels          []models.IceLevel `json:"levels"`
	OpeningG        float64           `json:"opening_g"`
	MadeG           float64           `json:"made_g"`
	StirredInG      float64           `json:"stirred_in_g"`
	ServedG         float64           `json:"served_g"`
	MeltedG         float64           `json:"melted_g"`
	LeftG           float64           `json:"left_g"`
	ShortG          float64           `json:"short_g"`
	BathG           float64           `json:"bath_g"`
	BathFromDrinksG float64           `json:"bath_from_drinks_g"`
}

type quota struct {
	Date     models.Date      `json:"date"`
	DayPart  string           `json:"day_part"`
	Maker    string           `json:"maker"`
	MakeG    float64          `json:"make_g"`
	From     time.Time        `json:"from,omitzero"`
	Due      time.Time        `json:"due"`
	Loads    []models.IceLoad `json:"loads"`
	BathIce  bool             `json:"bath_ice"`
	LevelG   float64          `json:"level_g"`
	Quarters int              `json:"quarters"`
	BinG     float64          `json:"bin_g"`
}

type wellFill struct {
	Well string    `json:"well"`
	At   time.Time `json:"at"`
	G    float64   `json:"g"`
}

type fill struct {
	Date         models.Date       `json:"date"`
	DayPart      string            `json:"day_part"`
	At           time.Time         `json:"at,omitzero"`
	DrawL        float64           `json:"draw_l"`
	ROL          *float64          `json:"ro_l"`
	TapL         *float64          `json:"tap_l"`
	Concentrates []concentrate     `json:"concentrates"`
	BrewL        float64           `json:"brew_l"`
	IceL         float64           `json:"ice_l"`
	RinseL       float64           `json:"rinse_l"`
	DrinkL       float64           `json:"drink_l"`
	TankAfterL   float64           `json:"tank_after_l"`
	Dose         []models.SaltDose `json:"dose"`
}

// fromTankL is the water that a fill takes out of the tank, L.
func (f *fill) fromTankL() float64 {
	if f.ROL == nil {
		return f.DrawL
	}
	return *f.ROL
}

type concentrate struct {
	Code string  `json:"code"`
	ML   float64 `json:"ml"`
}

type mix struct {
	At      time.Time         `json:"at"`
	Code    string            `json:"code"`
	Salts   []models.SaltDose `json:"salts"`
	WaterML float64           `json:"water_ml"`
	MakesML float64           `json:"makes_ml"`
	GoodTo  time.Time         `json:"good_to,omitzero"`
}

type tank struct {
	OpeningL float64     `json:"opening_l"`
	MadeL    float64     `json:"made_l"`
	DrawnL   float64     `json:"drawn_l"`
	IceL     float64     `json:"ice_l"`
	RinseL   float64     `json:"rinse_l"`
	ShortL   float64     `json:"short_l"`
	LeftL    float64     `json:"left_l"`
	Levels   []tankLevel `json:"levels"`
}

type tankLevel struct {
	At time.Time `json:"at"`
	L  float64   `json:"l"`
}

type pull struct {
	Date      models.Date `json:"date"`
	Coffee    string      `json:"coffee"`
	Lot       string      `json:"lot"`
	G         float64     `json:"g"`
	OpenG     float64     `json:"open_g"`
	FromPlace string      `json:"from_place"`
	PullBy    time.Time   `json:"pull_by"`
	UseFrom   time.Time   `json:"use_from"`
}

type warning struct {
	Kind      string    `json:"kind"`
	Subject   string    `json:"subject"`
	Rule      string    `json:"rule"`
	Grade     string    `json:"grade"`
	At        time.Time `json:"at"`
	Amount    float64   `json:"amount"`
	ChancePct float64   `json:"chance_pct"`
	Cause     string    `json:"cause"`
	Fields    []string  `json:"fields"`
	Fixes     []fix     `json:"ways_out"`
}

type fix struct {
	Action string  `json:"action"`
	Cost   float64 `json:"cost"`
	Effect struct {
		ChancePct float64 `json:"chance_pct"`
		Amount    float64 `json:"amount"`
	} `json:"effect"`
}

type expected struct {
	Demanded    float64         `json:"demanded"`
	Sold        float64         `json:"sold"`
	Missed      float64         `json:"missed"`
	Days        []expectedDrink `json:"days"`
	Drinks      []expectedDrink `json:"drinks"`
	PouredAwayG float64         `json:"poured_away_g"`
	PouredAway  []pouredAway    `json:"poured_away"`
	Cost        struct {
		Brewing     float64 `json:"brewing"`
		Aging       float64 `json:"aging"`
		PouredAway  float64 `json:"poured_away"`
		MissedSales float64 `json:"missed_sales"`
		IceBought   float64 `json:"ice_bought"`
		Total       float64 `json:"total"`
	} `json:"cost"`
}

type expectedDrink struct {
	Date     models.Date `json:"date"`
	Drink    string      `json:"drink"`
	Demanded float64     `json:"demanded"`
	Sold     float64     `json:"sold"`
	Missed   float64     `json:"missed"`
}

type pouredAway struct {
	Beverage string  `json:"beverage"`
	G        float64 `json:"g"`
	Cost     float64 `json:"cost"`
}

type lotLeft struct {
	Batch    string    `json:"batch"`
	Beverage string    `json:"beverage"`
	UseBy    time.Time `json:"use_by"`
	G        float64   `json:"g"`
	Carried  bool      `json:"carried"`
}

type sheet struct {
	Date         models.Date `json:"date"`
	Cautions     []string    `json:"cautions"`
	CautionCodes []string    `json:"caution_codes"`
	Tasks        []task      `json:"tasks"`
}

type task struct {
	ID           string          `json:"id"`
	At           time.Time       `json:"at"`
	Until        time.Time       `json:"until,omitzero"`
	Hands        int             `json:"hands"`
	Mark         bool            `json:"mark"`
	PartOf       string          `json:"part_of"`
	Station      string          `json:"station"`
	Kind         string          `json:"kind"`
	Say          string          `json:"say"`
	State        string          `json:"state"`
	Caution      string          `json:"caution"`
	CautionCode  string          `json:"caution_code"`
	CautionCodes []string        `json:"caution_codes"`
	Beverage     string          `json:"beverage"`
	Batch        *batch          `json:"batch"`
	Lots         []models.LotUse `json:"lots"`
	Quota        *quota          `json:"quota"`
	Draw         *fill           `json:"draw"`
	Mix          *mix            `json:"mix"`
	Pulls        []pull          `json:"pulls"`
	Discard      *models.Discard `json:"discard"`
	Well         *wellFill       `json:"well"`
	Choice       *choice         `json:"choice"`

	date  models.Date // of its sheet
	begun bool        // it belongs to a line that is under way
	later bool        // it is a later step of a batch that is under way
}

// Papers are a request with the plan and the prep sheets made from it.
type Papers struct {
	request *models.PlanRequest
	plan    plan
	sheets  []sheet

	loc     *time.Location
	present []models.Span // when somebody is there, in order
	tasks   []*task       // of all sheets, in their order
}

// Read reads the documents: the JSON of a plan, and of the list of its prep sheets.
func Read(r *models.PlanRequest, planJSON, sheetsJSON []byte) (*Papers, error) {
	p := &Papers{request: r}
	if err := json.Unmarshal(planJSON, &p.plan); err != nil {
		return nil, fmt.Errorf("plan: %w", err)
	}
	if err := json.Unmarshal(sheetsJSON, &p.sheets); err != nil {
		return nil, fmt.Errorf("prep sheets: %w", err)
	}
	p.index()
	return p, nil
}

// index works out what several rules need.
func (p *Papers) index() {
	p.loc = p.request.Site.Location()
	p.present = presence(p.request)
	p.tasks = nil
	for i := range p.sheets {
		for k := range p.sheets[i].Tasks {
			t := &p.sheets[i].Tasks[k]
			t.date = p.sheets[i].Date
			p.tasks = append(p.tasks, t)
		}
	}
	for _, t := range p.tasks {
		t.later = t.Batch != nil && t.Batch.State != models.Due && t.Kind != models.TaskDiscard && t.Kind != models.TaskTempLog
		t.begun = t.PartOf != "" && slices.ContainsFunc(p.tasks, func(o *task) bool { return o.ID == t.PartOf && o.State != models.Due })
	}
}

// due lists the batches that are neither started nor made.
func (p *Papers) due() []*batch {
	var out []*batch
	for i := range p.plan.Batches {
		if b := &p.plan.Batches[i]; b.State == models.Due {
			out = append(out, b)
		}
	}
	return out
}

func (p *Papers) beverage(code string) *models.Beverage {
	for i := range p.request.Beverages {
		if p.request.Beverages[i].Code == code {
			return &p.request.Beverages[i]
		}
	}
	return &models.Beverage{Code: code}
}

// brewer returns the brewer of a code, nil if the request has none.
func (p *Papers) brewer(code string) *models.Brewer {
	for i := range p.request.Brewers {
		if p.request.Brewers[i].Code == code {
			return &p.request.Brewers[i]
		}
	}
	return nil
}

func (p *Papers) mould(code string) *models.MouldSet {
	for i := range p.request.Ice.Moulds {
		if p.request.Ice.Moulds[i].Code == code {
			return &p.request.Ice.Moulds[i]
		}
	}
	return nil
}

func (p *Papers) maker(code string) *models.IceMaker {
	for i := range p.request.Ice.Makers {
		if p.request.Ice.Makers[i].Code == code {
			return &p.request.Ice.Makers[i]
		}
	}
	return nil
}

func (p *Papers) coffee(code string) *models.Coffee {
	for i := range p.request.Coffees {
		if p.request.Coffees[i].Code == code {
			return &p.request.Coffees[i]
		}
	}
	return &models.Coffee{Code: code}
}

// warned reports whether the plan has a warning of a kind, about a subject if that is not empty.
func (p *Papers) warned(kind, subject string) bool {
	for _, w := range p.plan.Warnings {
		if w.Kind == kind && (subject == "" || w.Subject == "" || w.Subject == subject) {
			return true
		}
	}
	return false
}

// clock is an instant as a finding names it.
func (p *Papers) clock(t time.Time) string { return t.In(p.loc).Format("2006-01-02 15:04") }
