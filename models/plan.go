package models

import (
	"encoding/json"
	"slices"
	"strings"
	"time"
)

// Plan is the result of a PlanRequest. A stored plan is immutable; a change makes a new revision.
type Plan struct {
	Revision   int       `json:"revision"` // 0 until stored
	Digest     string    `json:"digest"`   // of the request, its now rounded up to the first slot
	ComputedAt time.Time `json:"computed_at"`

	WeatherIssuedAt *time.Time `json:"weather_issued_at,omitempty"` // of the request's weather; absent: it has none, or doesn't say
	WeatherAgeH     *float64   `json:"weather_age_h,omitempty"`     // from then to computed_at

	From         Date           `json:"from"`
	Days         int            `json:"days"`
	Summary      Summary        `json:"summary"`
	Demand       []DemandRange  `json:"demand"`
	Batches      []BatchTask    `json:"batches"`
	Choices      []Choice       `json:"choices,omitempty"` // batches left to the day
	Ice          IcePlan        `json:"ice"`
	Water        []WaterDraw    `json:"water"`
	Mixes        []Mix          `json:"mixes,omitempty"` // concentrates to mix for dosing
	Tank         *TankPlan      `json:"tank,omitempty"`  // absent in plans of earlier versions
	Pulls        []BeanPull     `json:"pulls"`
	Supplies     []SupplyNeed   `json:"supplies,omitempty"` // what the planned drinks use beside coffee, water and ice
	Stock        []StockPoint   `json:"stock"`              // of each beverage over time
	Warnings     []Warning      `json:"warnings"`
	Cautions     []string       `json:"cautions"`
	CautionCodes []Caution      `json:"caution_codes"` // of cautions, in the same order; none in plans of earlier versions
	Expected     Expected       `json:"expected"`
	Left         []LotLeft      `json:"left"` // what the planned days leave of each lot at its use-by time
	Cost         Cost           `json:"cost"`
	ColdLimitC   float64        `json:"cold_limit_c,omitzero"` // of the cold store, by the site's food safety rules; absent where it has chosen none
	Made         []UnderWayMade `json:"made,omitempty"`        // tasks already started or made at a replan

	OffSale []StopSelling `json:"off_sale,omitempty"` // drinks to take off sale, by time; absent where nothing is likely to run short

	Hands []HalfHour `json:"hands,omitempty"` // people's time by half hour, while anybody is on shift; absent where site.people is empty
}

// ShortOfIce is StopSelling.Short for ice for drinks.
const ShortOfIce = "ice"

// StopSelling is a drink to take off sale on a day, so that what runs short lasts for the drinks that earn more with it.
type StopSelling struct {
	Date      Date      `json:"date"`
	Drink     string    `json:"drink"` // its code
	From      time.Time `json:"from"`
	Short     string    `json:"short"`       // "ice", or the code of the beverage that runs short
	RunsOutAt time.Time `json:"runs_out_at"` // when it may run out
	Drinks    float64   `json:"drinks"`      // expected of the drink from then on
	Instead   []string  `json:"instead"`     // codes of drinks to offer, the best first
	Say       string    `json:"say"`         // a sentence
}

// HalfHour is half an hour of the people on shift, in minutes of one person.
type HalfHour struct {
	At         time.Time `json:"at"`          // on the half hour of local time
	OnShift    float64   `json:"on_shift"`    // people, mean over the half hour; none before now
	ServingMin float64   `json:"serving_min"` // for the drinks expected, at serve_min each
	FreeMin    float64   `json:"free_min"`    // for prep: on_shift × 30 − serving_min, but never too little for one batch an hour
	UsedMin    float64   `json:"used_min"`    // of that by the batches
}

// Summary is the plan in figures and one sentence.
type Summary struct {
	Text          string   `json:"text"`
	Batches       int      `json:"batches"`
	BeverageG     float64  `json:"beverage_g"`
	DoseG         float64  `json:"dose_g"`
	DrinkIceG     float64  `json:"drink_ice_g"` // stirred in and served
	TreatedWaterL float64  `json:"treated_water_l"`
	DrainL        float64  `json:"drain_l"` // reject water of the treatment
	Servings      float64  `json:"servings"`
	WarmestC      *float64 `json:"warmest_c"` // of the forecast; null: the weather of these days is unknown
	SlotMin       int      `json:"slot_min"`
}

// DemandRange is the demand range of a drink in a day part and the amount to prepare for it, in servings.
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

// BatchTask is one batch of a beverage on a brewer. BeverageG is finished beverage: brewed liquid plus stirred-in ice.
type BatchTask struct {
	ID               string      `json:"id"` // stable across replans that keep the batch
	Date             Date        `json:"date"`
	Brewer           string      `json:"brewer"`
	Beverage         string      `json:"beverage"`
	Start            time.Time   `json:"start"`
	StrainAt         time.Time   `json:"strain_at,omitzero"` // steeped only
	IceAt            time.Time   `json:"ice_at,omitzero"`    // when the ice is stirred in
	LevelPct         float64     `json:"level_pct,omitzero"` // service level of its beverage, %; a replan keeps it
	Ready            time.Time   `json:"ready"`
	UseBy            time.Time   `json:"use_by"`
	DoseG            float64     `json:"dose_g"`
	BrewWaterG       float64     `json:"brew_water_g"`
	IceG             float64     `json:"ice_g"`
	BeverageG        float64     `json:"beverage_g"`
	BrewerOutTempC   float64     `json:"brewer_out_temp_c"`
	CoolToBeforeIceC *float64    `json:"cool_to_before_ice_c"`        // null: the ice goes in straight from the brewer
	CoolingMin       *float64    `json:"cooling_min"`                 // null: cooling_ua_w_per_k is unknown
	BathIceG         float64     `json:"bath_ice_g"`                  // ice for its ice bath, to 100 g; never served
	BathFromDrinksG  float64     `json:"bath_from_drinks_g,omitzero"` // part of bath_ice_g that is ice for drinks, for want of ice-bath ice
	BathWaterL       float64     `json:"bath_water_l,omitzero"`       // tap water that fills the bath to the level of the coffee, beside what is in it
	ExpectedTDSPct   float64     `json:"expected_tds_pct"`
	ExpectedYieldPct float64     `json:"expected_yield_pct"`
	IceTempC         float64     `json:"ice_temp_c"`
	IceWetShare      float64     `json:"ice_wet_share"` // mass fraction of liquid water in the scooped ice
	FinalTempC       float64     `json:"final_temp_c"`
	RetainedG        float64     `json:"retained_g"`          // liquid retained by the grounds
	DissolvedG       float64     `json:"dissolved_g"`         // all solids extracted, including those in the retained liquid
	Lots             []LotUse    `json:"lots"`                // source of the beans, oldest lot first; empty if beans are short
	CoffeeLot        string      `json:"coffee_lot"`          // codes of lots joined by "+", for clients that do not know lots
	State            string      `json:"state"`               // due, started or made
	Choice           string      `json:"choice,omitempty"`    // ID of the choice by which it may be made smaller, or not at all
	LookAt           time.Time   `json:"look_at,omitzero"`    // of the choice
	Probes           []Probe     `json:"probes,omitempty"`    // when to take its temperature, where it cools outside an ice bath
	Serves           string      `json:"serves"`              // its purpose, in words
	Otherwise        []Otherwise `json:"otherwise,omitempty"` // of due batches: the cost half an hour earlier, later, or without it
	Cautions         []string    `json:"cautions"`
	CautionCodes     []Caution   `json:"caution_codes"` // of cautions, in the same order
}

// Choice is a batch that is left to the day. At LookAt somebody looks at how much of the beverage is left, with what is in ice baths and
// still to come of batches begun; the first option whose BelowG is above that amount is brewed. Without an answer the default is.
type Choice struct {
	ID       string         `json:"id"` // stable across replans: of the day and the beverage
	Date     Date           `json:"date"`
	LookAt   time.Time      `json:"look_at"`
	Beverage string         `json:"beverage"`
	Brewer   string         `json:"brewer"`
	Options  []ChoiceOption `json:"options"` // rising amounts left, the last without below_g
	Default  int            `json:"default"` // index of the option in batches
	Saves    float64        `json:"saves"`   // expected, against always brewing the default, minor units
}

// ChoiceOption is what to brew if less than BelowG is left. Batch nil: nothing.
type ChoiceOption struct {
	BelowG *float64   `json:"below_g,omitempty"`
	Batch  *BatchTask `json:"batch"`
	Chance float64    `json:"chance"` // share of the simulated days on which it is taken
}

// Option returns the index of the option for an amount left, g.
func (c *Choice) Option(leftG float64) int {
	for i := range c.Options {
		if below := c.Options[i].BelowG; below == nil || leftG < *below {
			return i
		}
	}
	return len(c.Options) - 1
}

// Probe is a temperature to take and write down: the highest that is allowed at that time.
type Probe struct {
	At     time.Time `json:"at"`
	LimitC float64   `json:"limit_c"`
}

// LotUse is the beans that a batch takes from a lot, g before the grinder's loss. G is 0 where an earlier version did not store it.
type LotUse struct {
	Lot string  `json:"lot"`
	G   float64 `json:"g"`
}

// Otherwise is an alternative to a batch, the rest of the plan unchanged.
type Otherwise struct {
	Change string  `json:"change"` // earlier, later, left_out
	Cost   float64 `json:"cost"`   // extra cost of the plan, minor units; 0 if infeasible
	Not    string  `json:"not"`    // why it is infeasible; empty if it is feasible
}

// IcePlan is the ice for drinks over all days, g. OpeningG + MadeG = StirredInG + ServedG + BathFromDrinksG + MeltedG + LeftG. BathG is
// the ice of all ice baths, BathFromDrinksG the part of it that comes from the ice for drinks.
type IcePlan struct {
	Quotas          []IceQuota `json:"quotas"`
	Checks          []IceQuota `json:"checks,omitempty"` // looks into the ice bins, a few a day; none in plans of earlier versions
	WellFills       []WellFill `json:"well_fills,omitempty"`
	Levels          []IceLevel `json:"levels"`
	OpeningG        float64    `json:"opening_g"`
	MadeG           float64    `json:"made_g"`
	StirredInG      float64    `json:"stirred_in_g"`
	ServedG         float64    `json:"served_g"`
	MeltedG         float64    `json:"melted_g"`
	LeftG           float64    `json:"left_g"`
	ShortG          float64    `json:"short_g"` // unmet need for serving ice at the prepared level
	BathG           float64    `json:"bath_g"`
	BathFromDrinksG float64    `json:"bath_from_drinks_g,omitzero"`
}

// IceQuota is the ice that an ice machine or mould set must add for a day part, and its deadline. As a check it is the level at which an
// ice bin must stand when somebody looks into it; Maker is then one of the machines that fill the bin, Makers all of them.
type IceQuota struct {
	Date    Date      `json:"date"`
	DayPart string    `json:"day_part"`
	Maker   string    `json:"maker"`
	MakeG   float64   `json:"make_g"` // within what the machine makes from From to Due in the air of that time
	From    time.Time `json:"from,omitzero"`
	Due     time.Time `json:"due"`
	Loads   []IceLoad `json:"loads"`              // mould sets only
	BathIce bool      `json:"bath_ice,omitempty"` // ice-bath ice, not for drinks

	LevelG   float64  `json:"level_g,omitzero"`  // of a check: in the ice bin at Due, so that nothing runs short later
	Quarters int      `json:"quarters,omitzero"` // of a check: level_g in quarters of the ice bin, 1…4
	BinG     float64  `json:"bin_g,omitzero"`    // of a check: what the ice bin holds
	Makers   []string `json:"makers,omitempty"`  // of a check
}

// WellFill is ice for drinks to carry from the ice bin to a well at the bar.
type WellFill struct {
	Well string    `json:"well"`
	At   time.Time `json:"at"`
	G    float64   `json:"g"`
}

// IceLoad is one filling of a mould set.
type IceLoad struct {
	FillAt time.Time `json:"fill_at"`
	TakeAt time.Time `json:"take_at"`
	G      float64   `json:"g"`
}

// IceLevel is the ice for drinks in the bin at an instant on the simulated days: the median, and the range in which it lies on 8 days in 10.
type IceLevel struct {
	At   time.Time `json:"at"`
	G    float64   `json:"g"` // in plans of earlier versions the level that the plan is made for, which is lower
	P10G float64   `json:"p10_g"`
	P90G float64   `json:"p90_g"`
}

// WaterDraw is a fill of brewing water, L: water from the tank and the tap, blended and dosed in containers before it is used. Its
// uses are those of its own water. Date and day part are those of its first use. Plans of earlier versions have one for each day part
// instead, without a time, of all its treated water.
type WaterDraw struct {
	Date         Date              `json:"date"`
	DayPart      string            `json:"day_part"`
	At           time.Time         `json:"at,omitzero"`         // when to begin, at the latest
	By           time.Time         `json:"by,omitzero"`         // first use
	Containers   int               `json:"containers,omitzero"` // of up to 20 L where water.container_l is 0
	DrawL        float64           `json:"draw_l"`              // ro_l + tap_l
	ROL          float64           `json:"ro_l"`                // from the tank of the treatment
	TapL         float64           `json:"tap_l"`               // untreated, to blend
	Concentrates []ConcentrateDose `json:"concentrates,omitempty"`
	BrewL        float64           `json:"brew_l"`
	IceL         float64           `json:"ice_l"`        // of trays, and of ice machines that are not plumbed in
	RinseL       float64           `json:"rinse_l"`      // 0: brewers are rinsed from the tank; see TankPlan
	DrinkL       float64           `json:"drink_l"`      // water_g of drinks
	TankAfterL   float64           `json:"tank_after_l"` // in the tank when it is filled
	Dose         []SaltDose        `json:"dose"`         // salts in the concentrates
}

// ConcentrateDose is concentrate to add to a fill, mL.
type ConcentrateDose struct {
	Code string  `json:"code"`
	ML   float64 `json:"ml"`
}

// Mix is a concentrate to mix: dissolve the salts one after the other in the water, RO water, then fill up to the volume that it makes.
type Mix struct {
	At      time.Time  `json:"at"`
	Code    string     `json:"code"`  // A, B …
	Salts   []SaltDose `json:"salts"` // to weigh, in the order of mixing
	WaterML float64    `json:"water_ml"`
	MakesML float64    `json:"makes_ml"`
	MLPerL  float64    `json:"ml_per_l"` // for a litre of brewing water
	GoodTo  time.Time  `json:"good_to"`  // throw away what is left then
}

// TankPlan is the tank of the treatment over all days, L. Opening and made water, with what is short where the tank runs empty, is the
// water drawn, taken by ice machines, used to rinse, and left.
type TankPlan struct {
	OpeningL float64     `json:"opening_l"`
	MadeL    float64     `json:"made_l"`
	DrawnL   float64     `json:"drawn_l"` // into containers
	IceL     float64     `json:"ice_l"`   // taken by plumbed ice machines
	RinseL   float64     `json:"rinse_l"` // taken to rinse brewers; rinsing needs no minerals
	ShortL   float64     `json:"short_l"` // of ice and rinsing
	LeftL    float64     `json:"left_l"`
	Levels   []TankLevel `json:"levels"` // at the start of each slot, and at the end
}

// TankLevel is the water in the tank at an instant, before a fill that begins then.
type TankLevel struct {
	At time.Time `json:"at"`
	L  float64   `json:"l"`
}

// SaltDose is the dose of a food-grade salt, g.
type SaltDose struct {
	Salt string  `json:"salt"`
	G    float64 `json:"g"`
}

// BeanPull is the beans of a lot that a day needs at hand: OpenG from a bag already open, the rest in whole bags taken from storage.
// Beans left over are open the next day, so G − OpenG over all days plus the first OpenG do not exceed the lot.
type BeanPull struct {
	Date      Date      `json:"date"`
	Coffee    string    `json:"coffee"`
	Lot       string    `json:"lot"`
	G         float64   `json:"g"`
	OpenG     float64   `json:"open_g"` // part of g from a bag already open
	FromPlace string    `json:"from_place"`
	PullBy    time.Time `json:"pull_by"`
	UseFrom   time.Time `json:"use_from"`
}

// StockPoint is the cold stock of a beverage at an instant, g.
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
	WarnTooWarm         = "too_warm" // a temperature that somebody read
	WarnSuppliesShort   = "supplies_short"
)

// Grades of a warning.
const (
	GradeNote     = "note"
	GradeActToday = "act_today"
	GradeActNow   = "act_now"
)

// Warning is a risk in the plan: when, how much, how likely, its cause, and possible fixes.
type Warning struct {
	Kind      string    `json:"kind"`
	Subject   string    `json:"subject,omitempty"`   // code of the beverage or coffee that it is about
	Rule      string    `json:"rule,omitempty"`      // food safety rule that a setting breaks, see SignOff
	Value     float64   `json:"value,omitzero"`      // of that setting, to sign it off
	SignedBy  string    `json:"signed_by,omitempty"` // who has signed it off
	Grade     string    `json:"grade"`
	At        time.Time `json:"at"`
	Amount    float64   `json:"amount"`
	Unit      string    `json:"unit"`
	ChancePct float64   `json:"chance_pct"`
	Cause     string    `json:"cause"`  // a sentence for a person
	Fields    []string  `json:"fields"` // related fields of the request, as dotted paths such as ice.makers.0.kg_per_day_rated
	Fixes     []Fix     `json:"ways_out"`
}

// OfBathIce reports whether a warning is about ice for baths, not ice for drinks, running short.
func (w Warning) OfBathIce() bool {
	return w.Kind == WarnIceShort && slices.ContainsFunc(w.Fields, func(f string) bool { return strings.HasPrefix(f, "ice.plain") })
}

// RunOut is when ice for drinks may run out on a day, and the chance that it does.
type RunOut struct {
	At        time.Time
	ChancePct float64
}

// RunOuts are the times at which ice for drinks may run out: those of the plan's warnings, in order.
func (p *Plan) RunOuts() []RunOut {
	var out []RunOut
	for _, w := range p.Warnings {
		if w.Kind == WarnIceShort && !w.OfBathIce() && w.ChancePct > 0 {
			out = append(out, RunOut{w.At, w.ChancePct})
		}
	}
	slices.SortFunc(out, func(a, b RunOut) int { return a.At.Compare(b.At) })
	return out
}

// Fix is something that may help against a warning: a changed request and its effect on the plan.
type Fix struct {
	Action string          `json:"action"` // a sentence
	Change json.RawMessage `json:"change"` // JSON Merge Patch (RFC 7396) of the request
	Effect Effect          `json:"effect"`
	Cost   float64         `json:"cost"` // change in expected.cost.total, minor units, with the ice it buys and the drinks it stops selling
}

// Effect is the warning's chance and amount after a fix.
type Effect struct {
	ChancePct float64 `json:"chance_pct"`
	Amount    float64 `json:"amount"`
}

// Expected is the plan's result on its Monte Carlo days: means over those days. Drinks are servings on the planned days.
type Expected struct {
	Demanded    float64         `json:"demanded"`
	Sold        float64         `json:"sold"`
	Missed      float64         `json:"missed"`
	MissedNoIce float64         `json:"missed_no_ice"` // of missed: while ice for drinks was out
	Days        []ExpectedDay   `json:"days"`
	Drinks      []ExpectedDrink `json:"drinks"`
	PouredAwayG float64         `json:"poured_away_g"`
	PouredAway  []PouredAway    `json:"poured_away"`
	IceBoughtG  float64         `json:"ice_bought_g"` // 0 unless the plan buys ice
	IceShortG   float64         `json:"ice_short_g"`  // ice for drinks that drinks and batches lacked
	Cost        ExpectedCost    `json:"cost"`
}

// ExpectedDay is one planned day of Expected.
type ExpectedDay struct {
	Date       Date    `json:"date"`
	Demanded   float64 `json:"demanded"`
	Sold       float64 `json:"sold"`
	Missed     float64 `json:"missed"`
	MissedCost float64 `json:"missed_cost"` // as in missed_sales, minor units
}

// ExpectedDrink is one drink of Expected, over all planned days.
type ExpectedDrink struct {
	Drink       string  `json:"drink"`
	Demanded    float64 `json:"demanded"`
	Sold        float64 `json:"sold"`
	Missed      float64 `json:"missed"`
	MissedNoIce float64 `json:"missed_no_ice"` // of missed: while ice for drinks was out
}

// PouredAway is the beverage poured away because it expires, or because nothing is sold between the last planned day and its use-by
// time. Cost is its disposal and, for batches of the plan, its making, minor units.
type PouredAway struct {
	Beverage string  `json:"beverage"`
	G        float64 `json:"g"`
	Cost     float64 `json:"cost"`
}

// ExpectedCost is the expected cost in minor units. Total is the sum of the others. Coffee made before the plan is paid for: its
// making is in none of them.
type ExpectedCost struct {
	Brewing     float64 `json:"brewing"` // batches, and the coffee in them that is not poured away
	Aging       float64 `json:"aging"`
	PouredAway  float64 `json:"poured_away"`  // disposal and making
	MissedSales float64 `json:"missed_sales"` // drinks missed: their contribution times short_factor, or ice_short_factor while ice was out, and the coffee in batches that they would have used
	Total       float64 `json:"total"`
}

// LotLeft is the mean over the Monte Carlo days of what is left of a lot at its use-by time, or of a lot that outlasts the plan at its
// end. A batch is named by its ID, stock on hand by when it was made.
type LotLeft struct {
	Batch    string    `json:"batch,omitempty"`
	Beverage string    `json:"beverage"`
	MadeAt   time.Time `json:"made_at"` // when a batch is ready
	UseBy    time.Time `json:"use_by"`
	G        float64   `json:"g"`
	Carried  bool      `json:"carried"` // it can be sold after the plan; false: it is poured away
}

// Cost is the batch search's own account in minor units, for the one course of demand that the batches are planned for: it shows how
// good the search is. What to expect of the plan is in Expected.
type Cost struct {
	Total         float64 `json:"total"`
	LowerBound    float64 `json:"lower_bound"`
	GapPct        float64 `json:"gap_pct"`
	Brewing       float64 `json:"brewing"`
	Waste         float64 `json:"waste"`
	Aging         float64 `json:"aging"`
	ShortExpected float64 `json:"short_expected"`
}

// UnderWayMade is a started or made task that a replan kept.
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
