package models

import (
	"encoding/json"
	"slices"
	"strings"
	"time"
)

// Plan is the answer to a PlanRequest. A stored plan is never edited, only followed by another revision.
type Plan struct {
	Revision     int            `json:"revision"` // 0 until stored
	Digest       string         `json:"digest"`   // of the request with now rounded up to the first slot
	ComputedAt   time.Time      `json:"computed_at"`
	From         Date           `json:"from"`
	Days         int            `json:"days"`
	Summary      Summary        `json:"summary"`
	Demand       []DemandRange  `json:"demand"`
	Batches      []BatchTask    `json:"batches"`
	Ice          IcePlan        `json:"ice"`
	Water        []WaterDraw    `json:"water"`
	Pulls        []BeanPull     `json:"pulls"`
	Stock        []StockPoint   `json:"stock"` // beverage curves over the days
	Warnings     []Warning      `json:"warnings"`
	Cautions     []string       `json:"cautions"`
	CautionCodes []Caution      `json:"caution_codes"` // of cautions, in the same order; none in plans of earlier versions
	Cost         Cost           `json:"cost"`
	Made         []UnderWayMade `json:"made,omitempty"` // what a replan found started or made
}

// Summary is the plan in a few numbers and one sentence.
type Summary struct {
	Text          string  `json:"text"`
	Batches       int     `json:"batches"`
	BeverageG     float64 `json:"beverage_g"`
	DoseG         float64 `json:"dose_g"`
	DrinkIceG     float64 `json:"drink_ice_g"` // stirred in and served
	TreatedWaterL float64 `json:"treated_water_l"`
	DrainL        float64 `json:"drain_l"` // thrown away by the treatment at its recovery
	Servings      float64 `json:"servings"`
	WarmestC      float64 `json:"warmest_c"`
	SlotMin       int     `json:"slot_min"`
}

// DemandRange is what may be asked for, and what the plan makes for it, in servings.
type DemandRange struct {
	Date    Date    `json:"date"`
	DayPart string  `json:"day_part"`
	Drink   string  `json:"drink"`
	Mean    float64 `json:"mean"`
	P10     float64 `json:"p10"`
	P50     float64 `json:"p50"`
	P90     float64 `json:"p90"`
	Prepare float64 `json:"prepare"`
	Basis   string  `json:"basis"`
}

// BatchTask is one run of a brewer for one beverage. BeverageG is finished beverage: brewed liquid and the ice stirred in.
type BatchTask struct {
	ID               string      `json:"id"` // stays while the batch stays the same in a replan
	Date             Date        `json:"date"`
	Brewer           string      `json:"brewer"`
	Beverage         string      `json:"beverage"`
	Start            time.Time   `json:"start"`
	StrainAt         time.Time   `json:"strain_at,omitzero"` // steeped only
	IceAt            time.Time   `json:"ice_at,omitzero"`    // when the ice is stirred in
	LevelPct         float64     `json:"level_pct,omitzero"` // the days, %, whose demand its beverage is prepared for; a plan made anew keeps it
	Ready            time.Time   `json:"ready"`
	UseBy            time.Time   `json:"use_by"`
	DoseG            float64     `json:"dose_g"`
	BrewWaterG       float64     `json:"brew_water_g"`
	IceG             float64     `json:"ice_g"`
	BeverageG        float64     `json:"beverage_g"`
	BrewerOutTempC   float64     `json:"brewer_out_temp_c"`
	CoolToBeforeIceC *float64    `json:"cool_to_before_ice_c"` // null: the ice goes in as it leaves the brewer
	CoolingMin       *float64    `json:"cooling_min"`          // null: cooling_ua_w_per_k is not known
	BathIceG         float64     `json:"bath_ice_g"`
	ExpectedTDSPct   float64     `json:"expected_tds_pct"`
	ExpectedYieldPct float64     `json:"expected_yield_pct"`
	IceTempC         float64     `json:"ice_temp_c"`
	IceWetShare      float64     `json:"ice_wet_share"` // liquid water in the ice as scooped
	FinalTempC       float64     `json:"final_temp_c"`
	RetainedG        float64     `json:"retained_g"`          // liquid the grounds keep
	DissolvedG       float64     `json:"dissolved_g"`         // all that left the solids, the retained liquid's part included
	Lots             []LotUse    `json:"lots"`                // where its beans come from, oldest lot first; empty where beans are short
	CoffeeLot        string      `json:"coffee_lot"`          // the codes of Lots joined by "+", for readers that do not know lots
	State            string      `json:"state"`               // due, started or made
	Serves           string      `json:"serves"`              // what it is for, in words
	Otherwise        []Otherwise `json:"otherwise,omitempty"` // what half an hour earlier, later, or no batch would cost; due batches
	Cautions         []string    `json:"cautions"`
	CautionCodes     []Caution   `json:"caution_codes"` // of cautions, in the same order
}

// LotUse is the beans that a batch takes from a lot, g before the grinder's loss. G is 0 where an earlier version did not store it.
type LotUse struct {
	Lot string  `json:"lot"`
	G   float64 `json:"g"`
}

// Otherwise is a batch planned another way, all else as it is.
type Otherwise struct {
	Change string  `json:"change"` // earlier, later, left_out
	Cost   float64 `json:"cost"`   // of the plan then, less the plan's, minor units; 0 where it cannot be
	Not    string  `json:"not"`    // why it cannot be; empty where it can
}

// IcePlan is the drink ice over the days, g. OpeningG + MadeG = StirredInG + ServedG + MeltedG + LeftG. BathG is plain ice.
type IcePlan struct {
	Quotas     []IceQuota `json:"quotas"`
	Levels     []IceLevel `json:"levels"`
	OpeningG   float64    `json:"opening_g"`
	MadeG      float64    `json:"made_g"`
	StirredInG float64    `json:"stirred_in_g"`
	ServedG    float64    `json:"served_g"`
	MeltedG    float64    `json:"melted_g"`
	LeftG      float64    `json:"left_g"`
	ShortG     float64    `json:"short_g"` // serving ice asked for and not there, at the prepared level
	BathG      float64    `json:"bath_g"`
}

// IceQuota is what a maker or mould set must add for a day part, and by when.
type IceQuota struct {
	Date    Date      `json:"date"`
	DayPart string    `json:"day_part"`
	Maker   string    `json:"maker"`
	MakeG   float64   `json:"make_g"`
	Due     time.Time `json:"due"`
	Loads   []IceLoad `json:"loads"` // mould sets only
}

// IceLoad is one filling of a mould set.
type IceLoad struct {
	FillAt time.Time `json:"fill_at"`
	TakeAt time.Time `json:"take_at"`
	G      float64   `json:"g"`
}

// IceLevel is the drink ice in the bin at an instant, with its 10–90 % range.
type IceLevel struct {
	At   time.Time `json:"at"`
	G    float64   `json:"g"`
	P10G float64   `json:"p10_g"`
	P90G float64   `json:"p90_g"`
}

// WaterDraw is the treated water of a day part, L.
type WaterDraw struct {
	Date       Date       `json:"date"`
	DayPart    string     `json:"day_part"`
	DrawL      float64    `json:"draw_l"`
	BrewL      float64    `json:"brew_l"`
	IceL       float64    `json:"ice_l"`
	RinseL     float64    `json:"rinse_l"`
	DrinkL     float64    `json:"drink_l"` // into the glass, as water_g of drinks
	TankAfterL float64    `json:"tank_after_l"`
	Dose       []SaltDose `json:"dose"`
}

// SaltDose is grams of a food-grade salt for the water drawn.
type SaltDose struct {
	Salt string  `json:"salt"`
	G    float64 `json:"g"`
}

// BeanPull is the beans of a lot that a day needs at hand: whole packs to take out of store, and OpenG that is out already in an
// open pack. What a day leaves of its packs is open on the next, so over the days G − OpenG and the first OpenG stay within the lot.
type BeanPull struct {
	Date      Date      `json:"date"`
	Coffee    string    `json:"coffee"`
	Lot       string    `json:"lot"`
	G         float64   `json:"g"`
	OpenG     float64   `json:"open_g"` // of g, what is in an open pack already
	FromPlace string    `json:"from_place"`
	PullBy    time.Time `json:"pull_by"`
	UseFrom   time.Time `json:"use_from"`
}

// StockPoint is a beverage's cold stock at an instant, g.
type StockPoint struct {
	At       time.Time `json:"at"`
	Beverage string    `json:"beverage"`
	G        float64   `json:"g"`
}

// Kinds of warning.
const (
	WarnIceShort        = "ice_short"
	WarnBeverageShort   = "beverage_short"
	WarnBeansShort      = "beans_short"
	WarnWaterShort      = "water_short"
	WarnColdStoreFull   = "cold_store_full"
	WarnBrewerOverrun   = "brewer_overrun"
	WarnTargetTemp      = "target_temp_unreachable"
	WarnHoldTooLong     = "hold_too_long"
	WarnStrengthOff     = "strength_off"
	WarnSalesSilent     = "sales_silent"
	WarnStockCountOld   = "stock_count_old"
	WarnForecastOld     = "forecast_old"
	WarnPlainIce        = "plain_ice_in_drinks"
	WarnSteepWarm       = "steep_warm"
	WarnCoolingSlow     = "cooling_slow"
	WarnLimitLax        = "limit_lax"
	WarnWaterUnsuitable = "water_unsuitable"
	WarnYieldDoubtful   = "yield_doubtful"
)

// Grades of a warning.
const (
	GradeNote     = "note"
	GradeActToday = "act_today"
	GradeActNow   = "act_now"
)

// Warning says what may go wrong, when, how much, why, and what would help.
type Warning struct {
	Kind      string    `json:"kind"`
	Subject   string    `json:"subject,omitempty"` // code of the beverage or coffee that it is about
	Grade     string    `json:"grade"`
	At        time.Time `json:"at"`
	Amount    float64   `json:"amount"`
	Unit      string    `json:"unit"`
	ChancePct float64   `json:"chance_pct"`
	Cause     string    `json:"cause"`  // a sentence for a person
	Fields    []string  `json:"fields"` // of the request, as dotted paths such as ice.makers.0.kg_per_day_rated
	WaysOut   []WayOut  `json:"ways_out"`
}

// OfBathIce reports whether a warning is about ice for baths, not ice for drinks, running short.
func (w Warning) OfBathIce() bool {
	return w.Kind == WarnIceShort && slices.ContainsFunc(w.Fields, func(f string) bool { return strings.HasPrefix(f, "ice.plain") })
}

// WayOut is a changed request that was computed again, and what it changes.
type WayOut struct {
	Action string          `json:"action"` // a sentence
	Change json.RawMessage `json:"change"` // JSON Merge Patch (RFC 7396) of the request
	Effect Effect          `json:"effect"`
	Cost   float64         `json:"cost"` // lived_total of the changed plan less this plan's, minor units
}

// Effect is the warning's chance and amount after the change.
type Effect struct {
	ChancePct float64 `json:"chance_pct"`
	Amount    float64 `json:"amount"`
}

// Cost is the plan's cost with a proof of how far it can be from the least possible for its path of demand, minor units.
type Cost struct {
	Total         float64 `json:"total"`
	LowerBound    float64 `json:"lower_bound"`
	GapPct        float64 `json:"gap_pct"`
	Brewing       float64 `json:"brewing"`
	Waste         float64 `json:"waste"`
	Aging         float64 `json:"aging"`
	ShortExpected float64 `json:"short_expected"`
	LivedTotal    float64 `json:"lived_total"` // mean over the simulated days: brewing, aging, what is thrown away, drinks missed
}

// UnderWayMade repeats what a replan kept.
type UnderWayMade struct {
	Task  string `json:"task"`
	Kind  string `json:"kind"`
	State string `json:"state"`
}

// Change is one difference between two plans or prep sheets, in words.
type Change struct {
	Kind string `json:"kind"` // batch, ice, water, pull, demand, warning
	Text string `json:"text"`
}
