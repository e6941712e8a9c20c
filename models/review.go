package models

import "time"

// Review is what became of past days: planned, made, sold, poured away, short; how good what was said before was; and what the
// shop should change. A null says that nobody has told: it is not a zero.
type Review struct {
	From      Date             `json:"from"`
	Days      int              `json:"days"`
	Open      int              `json:"open"` // of the days, those on which something was counted
	Told      int              `json:"told"` // of those, days of which the kitchen said what it made
	ByDay     []ReviewDay      `json:"by_day"`
	Beverages []BeverageReview `json:"beverages"` // over the days told of each
	Drinks    []DrinkReview    `json:"drinks"`
	Ice       IceReview        `json:"ice"`
	Warned    []WarnedReview   `json:"warned"`
	Advice    []Advice         `json:"advice"`
	Notes     []string         `json:"notes"`  // what cannot be said, and why
	Record    *TrackRecord     `json:"record"` // how good what was said before has been; null: no night has judged yet
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

// BeverageReview is a beverage in grams. On a day of which the kitchen told, and over days, the book balances: opening_g + made_g =
// sold_g + poured_g + left_g + unexplained_g.
type BeverageReview struct {
	Beverage     string   `json:"beverage"`
	Days         int      `json:"days"`      // told
	PlannedG     *float64 `json:"planned_g"` // batches of the prep sheet that stood at last; null: no sheet
	OpeningG     *float64 `json:"opening_g"` // there when the first day began, as far as was told
	MadeG        *float64 `json:"made_g"`    // marked or told as made, and bought in
	SoldG        float64  `json:"sold_g"`    // in the drinks counted; over days told where any is
	PouredG      *float64 `json:"poured_g"`  // told as thrown away
	LeftG        *float64 `json:"left_g"`    // when the last day ended
	UnexplainedG *float64 `json:"unexplained_g"`
	PastUseByG   *float64 `json:"past_use_by_g"` // of what is unexplained, what passed its time without anybody saying that it was thrown away
	ShortG       *float64 `json:"short_g"`       // of drinks missed while off sale, as the forecast had them; null: none was off sale, or it had nothing
}

// DrinkReview is a drink in servings.
type DrinkReview struct {
	Drink     string   `json:"drink"`
	Forecast  *float64 `json:"forecast"` // said before the days, for the parts counted; null: nothing was
	Sold      float64  `json:"sold"`
	OffSaleH  float64  `json:"off_sale_h"` // open hours in which it could not be bought
	ShortOf   *float64 `json:"short_of"`   // servings missed then, as the forecast had them; null: not off sale, or nothing was said
	LostMoney *float64 `json:"lost_money"` // their contribution, minor units
}

// IceReview is the drink ice in grams.
type IceReview struct {
	PlannedG *float64 `json:"planned_g"` // quotas of the sheet that stood at last
	AskedG   float64  `json:"asked_g"`   // in the glasses sold, and stirred into what was made; where nobody told, into what was sold
	BoughtG  float64  `json:"bought_g"`  // told as bought in
	ThrownG  float64  `json:"thrown_g"`  // told as thrown away
	LowestG  *float64 `json:"lowest_g"`  // the least that was counted; null: nobody counted
}

// WarnedReview sets warnings of a kind beside what came, in days.
type WarnedReview struct {
	Kind   string `json:"kind"`
	Days   int    `json:"days"`   // warned of
	Came   *int   `json:"came"`   // of those, days on which it came: off sale or counted as gone, or ice bought in or counted as all but gone; null: nobody told
	Missed *int   `json:"missed"` // days on which it came unwarned
}

// Kinds of advice.
const (
	AdviceIceMaker = "ice_maker"  // too small
	AdviceMould    = "ice_mould"  // a forming load more would have done
	AdvicePoured   = "poured"     // too much of a beverage is poured away
	AdviceOffSale  = "off_sale"   // a drink was missed
	AdviceBatch    = "batch_size" // the smallest batch is too large for what is poured away
)

// Advice is a change that the days speak for. Amount is in Unit: kg a day, loads a day, kg, servings.
type Advice struct {
	Kind    string   `json:"kind"`
	Subject string   `json:"subject"` // code of the maker, mould set, beverage, drink or brewer; empty: all makers
	Days    int      `json:"days"`    // that speak for it
	Of      int      `json:"of"`      // days looked at
	Amount  float64  `json:"amount"`
	Unit    string   `json:"unit"`
	Sum     float64  `json:"sum"`   // what was missing or too much in all, kg or servings
	Worst   float64  `json:"worst"` // on the worst day
	Money   *float64 `json:"money"` // what it would have saved over the days, minor units; null: no price says it
}

// Replay is days of a site lived again under each way of preparing: the evening's plan, the usual par sheet, perfect foresight.
type Replay struct {
	MadeAt   time.Time      `json:"made_at"`
	From     Date           `json:"from"`
	To       Date           `json:"to"`
	Currency string         `json:"currency"`
	Open     int            `json:"open"`  // open days among them
	Asked    float64        `json:"asked"` // servings
	Methods  []ReplayMethod `json:"methods"`
	SVG      string         `json:"svg"` // the cost above perfect foresight, summed up over the days
}

// ReplayMethod is what came of the days under one way of preparing.
type ReplayMethod struct {
	Name      string   `json:"name"`
	Cost      float64  `json:"cost"` // minor units: batches, coffee poured away, disposal, ageing, drinks missed
	PouredKg  float64  `json:"poured_kg"`
	Missed    float64  `json:"missed"` // servings
	IceShortH float64  `json:"ice_short_h"`
	InsidePct *float64 `json:"inside_pct"` // of the plan's ranges, those that held; null: it has none
}

// ReplayOrder is the argument of a JobReplay.
type ReplayOrder struct {
	From Date `json:"from"`
	Days int  `json:"days"`
}
