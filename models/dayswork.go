package models

import "time"

// OnShift is the number of people on shift in a span of local time, on a weekday (mon … sun) or, overriding that, on a date. If To is
// at or before From, the span runs past midnight. Spans of one day add up. Times without a span have nobody on shift.
type OnShift struct {
	Weekday string  `json:"weekday,omitempty" opt:"true" validate:"omitempty,oneof=mon tue wed thu fri sat sun"`
	Date    *Date   `json:"date,omitempty"`
	From    Clock   `json:"from"`
	To      Clock   `json:"to"`
	OnShift float64 `json:"on_shift" validate:"gte=0,lte=100"`
}

// WorkMin is the time that one person's hands are busy with each kind of work, min. The defaults are common practice, no source.
type WorkMin struct {
	Brew        float64 `json:"brew" default:"5" validate:"gte=0,lte=240"`         // a batch on a machine, with grinding and rinsing
	BathFlash   float64 `json:"bath_flash" default:"4" validate:"gte=0,lte=240"`   // an ice bath, and stirring the ice in
	BathChilled float64 `json:"bath_chilled" default:"8" validate:"gte=0,lte=240"` // an ice bath with stirring until cold
	Store       float64 `json:"store" default:"5" validate:"gte=0,lte=240"`        // into the cold store: probe, label, wash up
	Tray        float64 `json:"tray" default:"5" validate:"gte=0,lte=240"`         // to empty and fill trays
	Strain      float64 `json:"strain" default:"12" validate:"gte=0,lte=240"`      // within strain_takes
	StrainTakes float64 `json:"strain_takes" default:"40" validate:"gte=0,lte=720"`
	Fill        float64 `json:"fill" default:"5" validate:"gte=0,lte=240"` // to fill and dose a container of water
	Get         float64 `json:"get" default:"2" validate:"gte=0,lte=240"`  // beans or supplies from storage
	Count       float64 `json:"count" default:"5" validate:"gte=0,lte=240"`
}

// IceWell is a well of ice for drinks at the bar, refilled by hand from the ice bin.
type IceWell struct {
	Code     string  `json:"code" validate:"code"`
	HoldsG   float64 `json:"holds_g" validate:"gt=0,lte=1e6"`
	CarryMin float64 `json:"carry_min" default:"5" validate:"gte=0,lte=120"` // of one person, to carry ice and fill it once
}

// Care is a recurring task that keeps equipment safe and working.
type Care struct {
	Code      string   `json:"code" validate:"code"`
	Name      string   `json:"name" opt:"true" validate:"max=200,name"`
	Station   string   `json:"station,omitempty" opt:"true" validate:"max=60"` // brewer, ice machine, mould set; empty: none of them
	Weekday   string   `json:"weekday,omitempty" opt:"true" validate:"omitempty,oneof=mon tue wed thu fri sat sun"`
	EveryDays int      `json:"every_days" default:"0" validate:"gte=0,lte=400"` // counted from last_done; 0: on each weekday named, or daily
	LastDone  *Date    `json:"last_done,omitempty"`
	HotC      *float64 `json:"hot_c,omitempty" validate:"omitempty,gte=0,lte=60"` // also due the day before a day at least this hot; null: no
	At        Clock    `json:"at"`
	Min       float64  `json:"min" default:"10" validate:"gte=0,lte=480"`
}

// Supply is something drinks use beside coffee, water and ice: milk, tonic, syrup, cups.
type Supply struct {
	Name      string     `json:"name" validate:"min=1,max=100,name"`
	Unit      string     `json:"unit" validate:"oneof=g ml piece"`
	Stock     *float64   `json:"stock,omitempty" validate:"omitempty,gte=0,lte=1e8"` // counted; null: not counted
	CountedAt *time.Time `json:"counted_at,omitempty"`
	Pack      float64    `json:"pack" default:"0" validate:"gte=0,lte=1e7"`        // in a bag, bottle or sleeve; 0: sold loose
	CasePacks int        `json:"case_packs" default:"0" validate:"gte=0,lte=1000"` // packs in a case; 0: sold by the pack
	OrderBy   Clock      `json:"order_by,omitempty" opt:"true"`                    // latest time to order, lead_days before the day; empty: can be bought at any time
	LeadDays  int        `json:"lead_days" default:"1" validate:"gte=0,lte=60"`    // from the day of an order to the morning it is there
	KeptIn    string     `json:"kept_in,omitempty" opt:"true" validate:"max=100"`
	Allergens []string   `json:"allergens" validate:"max=20,dive,min=1,max=60"`
}

// Extra is a supply in a serving of a drink.
type Extra struct {
	Name   string  `json:"name" validate:"min=1,max=100,name"`
	Amount float64 `json:"amount" validate:"gt=0,lte=1e5"`
	Unit   string  `json:"unit" validate:"oneof=g ml piece"`
}

// BoughtIce is how ice for drinks can be bought.
type BoughtIce struct {
	BagG    float64 `json:"bag_g" validate:"gt=0,lte=1e5"`
	OrderBy Clock   `json:"order_by,omitempty" opt:"true"` // on the day; empty: at any time
	KeptIn  string  `json:"kept_in,omitempty" opt:"true" validate:"max=100"`
	BagCost float64 `json:"bag_cost" default:"0" validate:"gte=0,lte=1e6"`
}
