package models

import "time"

// Review is the review of past days: planned, made, sold, waste, missed sales, forecast accuracy, and advice. null means not
// recorded, never zero.
type Review struct {
	From      Date             `json:"from"`
	Days      int              `json:"days"`
	Open      int              `json:"open"` // days with sales counts
	Reported  int              `json:"told"` // of those, days for which the kitchen recorded what it made
	ByDay     []ReviewDay      `json:"by_day"`
	Beverages []BeverageReview `json:"beverages"` // over each beverage's recorded days
	Drinks    []DrinkReview    `json:"drinks"`
	Ice       IceReview        `json:"ice"`
	Warned    []WarnedReview   `json:"warned"`
	Advice    []Advice         `json:"advice"`
	Notes     []string         `json:"notes"`  // gaps in the review and their causes
	Record    *TrackRecord     `json:"record"` // null: not computed yet
}

// ReviewDay is one service day.
type ReviewDay struct {
	Date      Date             `json:"date"`
	Open      bool             `json:"open"`
	WarmestC  *float64         `json:"warmest_c"`
	Beverages []BeverageReview `json:"beverages"`
	Drinks    []DrinkReview    `json:"drinks"`
	Ice       IceReview        `json:"ice"`
}

// BeverageReview is the mass balance of a beverage, g. On each recorded day, and over several, opening_g + made_g = sold_g +
// poured_g + left_g + unexplained_g.
type BeverageReview struct {
	Beverage     string   `json:"beverage"`
	Days         int      `json:"days"`      // recorded days
	PlannedG     *float64 `json:"planned_g"` // batches of the final prep sheets; null: no sheet
	OpeningG     *float64 `json:"opening_g"` // recorded stock at the start of the first day
	MadeG        *float64 `json:"made_g"`    // marked or recorded as made, and bought in
	SoldG        float64  `json:"sold_g"`    // in the drinks counted, with remake_pct; over recorded days only, if there are any
	PouredG      *float64 `json:"poured_g"`  // recorded as discarded
	LeftG        *float64 `json:"left_g"`    // at the end of the last day
	UnexplainedG *float64 `json:"unexplained_g"`
	PastUseByG   *float64 `json:"past_use_by_g"` // part of unexplained_g that passed its use-by time and was not recorded as discarded
	ShortG       *float64 `json:"short_g"`       // in drinks missed while off sale, by the forecast; null: never off sale, or no forecast
}

// DrinkReview is a drink's sales, in servings.
type DrinkReview struct {
	Drink     string   `json:"drink"`
	Forecast  *float64 `json:"forecast"` // made before each day, for the day parts counted; null: none
	Sold      float64  `json:"sold"`
	OffSaleH  float64  `json:"off_sale_h"` // opening hours off sale
	ShortOf   *float64 `json:"short_of"`   // servings missed while off sale, by the forecast; null: never off sale, or no forecast
	LostMoney *float64 `json:"lost_money"` // contribution margin of the missed servings times costs.short_factor, minor units
}

// IceReview is the use of ice for drinks, g.
type IceReview struct {
	PlannedG *float64 `json:"planned_g"` // quotas of the final sheet
	DemandG  float64  `json:"asked_g"`   // served in the drinks sold, with remake_pct and other_ice_pct, and stirred into the beverage made or, on unrecorded days, sold
	BoughtG  float64  `json:"bought_g"`  // recorded as bought in
	ThrownG  float64  `json:"thrown_g"`  // recorded as discarded
	LowestG  *float64 `json:"lowest_g"`  // lowest count; null: never counted
}

// WarnedReview compares the warnings of a kind with the shortages that occurred, in days.
type WarnedReview struct {
	Kind   string `json:"kind"`
	Days   int    `json:"days"`   // with a warning
	Came   *int   `json:"came"`   // of those, days with the shortage: a drink off sale or counted as gone, ice bought in or counted as nearly gone; null: nothing recorded
	Missed *int   `json:"missed"` // days with the shortage but no warning
}

// Kinds of advice.
const (
	AdviceIceMaker = "ice_maker"  // too small
	AdviceMould    = "ice_mould"  // more mould loads would have been enough
	AdvicePoured   = "poured"     // too much of a beverage is wasted
	AdviceOffSale  = "off_sale"   // a drink sold out
	AdviceBatch    = "batch_size" // the smallest batch is too large, causing waste
	AdviceHold     = "hold"       // hot-brewed coffee held longer
	AdviceBath     = "ice_bath"   // another vessel for ice baths
	AdviceIceBin   = "ice_bin"    // a larger ice bin
)

// Advice is a change suggested by the review. Amount is in Unit: kg a day, loads a day, kg, servings, h, baths. Of hold, ice_bath and
// ice_bin, which come from the latest replay, Days are those on which the change would have saved, of those replayed.
type Advice struct {
	Kind    string   `json:"kind"`
	Subject string   `json:"subject"` // code of the ice machine, mould set, beverage, drink or brewer; empty: all ice machines
	Days    int      `json:"days"`    // days that support it
	Of      int      `json:"of"`      // days reviewed
	Amount  float64  `json:"amount"`
	Unit    string   `json:"unit"`
	Sum     float64  `json:"sum"`   // total shortage or excess, kg or servings
	Worst   float64  `json:"worst"` // on the worst day
	Money   *float64 `json:"money"` // possible savings over the days, minor units; null: no prices to compute them

	// MoneyLow and MoneyHigh are the bounds between which 8 in 10 spans of as many such days save, minor units; null: not known.
	MoneyLow  *float64 `json:"money_low,omitempty"`
	MoneyHigh *float64 `json:"money_high,omitempty"`
}

// Replay is past days of a site simulated with each method: the evening's plan, the usual par sheet and the one whose cushion would have
// been best in hindsight, and perfect foresight.
type Replay struct {
	MadeAt   time.Time      `json:"made_at"`
	From     Date           `json:"from"`
	To       Date           `json:"to"`
	Currency string         `json:"currency"`
	Open     int            `json:"open"`  // open days among them
	Demand   float64        `json:"asked"` // demand, servings
	Methods  []ReplayMethod `json:"methods"`
	SVG      string         `json:"svg"` // cumulative cost above perfect foresight

	Curve    []ReplayMethod `json:"curve,omitempty"`     // every setting replayed: the par sheet by its cushion, the plan by its service level
	CurveSVG string         `json:"curve_svg,omitempty"` // coffee poured away against drinks missed
	Savings  []ReplaySaving `json:"savings,omitempty"`   // of changes to the shop
}

// ReplaySaving is what a change to the shop would have saved over the days: the plan's cost less that with the change. Was and Amount, the
// present size and what the change adds, are in h, baths or kg.
type ReplaySaving struct {
	Kind   string  `json:"kind"` // of an Advice: hold, ice_bath, ice_bin
	Was    float64 `json:"was"`
	Amount float64 `json:"amount"`
	Days   int     `json:"days"`  // on which it saved
	Of     int     `json:"of"`    // open days
	Money  float64 `json:"money"` // minor units
	Low    float64 `json:"low"`   // 8 in 10 spans of as many such days save between low and high
	High   float64 `json:"high"`
	Clear  bool    `json:"clear"` // enough days, at least 9 in 10 sure, and not trifling
}

// ReplayMethod is the result of one method over the days.
type ReplayMethod struct {
	Name      string   `json:"name"`
	Cost      float64  `json:"cost"` // minor units: batches, coffee wasted, disposal, ageing, missed sales
	PouredKg  float64  `json:"poured_kg"`
	Missed    float64  `json:"missed"` // servings
	IceShortH float64  `json:"ice_short_h"`
	InsidePct *float64 `json:"inside_pct"` // coverage of the forecast's ranges; null: it has none
}

// ReplayOrder is the argument of a JobReplay.
type ReplayOrder struct {
	From Date `json:"from"`
	Days int  `json:"days"`
}
