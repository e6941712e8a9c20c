package risk

import "hotday/planner/demand"

// Input is a plan in the form that the simulation needs. Masses are in g (a tank may use mL: each stock or flow has one unit).
// Slots and service days count from 0.
type Input struct {
	Slots  int
	Drinks []Drink
	Rows   []Row
	Stocks []Stock // held in lots: beverages and coffees
	Flows  []Flow  // made and used slot by slot: ice for drinks, treated water
	Days   []Day
	Assume Assumptions

	Choices []Choice
	Prices  *Prices // nil: no account by run
}

// Drink holds the amounts that one serving takes. If any is unavailable the sale is missed and takes nothing.
type Drink struct {
	Stocks []Take
	Flows  []Take
}

// Take is an amount of the stock or flow at Index in the input's list. An index out of range is ignored.
type Take struct {
	Index int
	G     float64
}

// Row is the demand of one drink in one day part of a service day.
type Row struct {
	Key   string // of its random numbers, unique: date, day part and drink
	Drink int
	Day   int
	Range demand.Range
	Slot  int       // first slot
	Share []float64 // of the row's demand, by slot; sums to at most 1
}

// Day is a service day with the night before it: from the end of the previous day up to slot Until, exclusive.
type Day struct {
	Until     int
	AheadDays float64 // lead time of the temperature forecast
}

// Stock is held in lots, which are used in order of expiry.
type Stock struct {
	Lots []Lot
}

// Lot can be used in slots From … Until−1. What is left when it expires within the horizon is waste. A lot with IceG above 0 is a
// batch yet to be made: in slot IceSlot it takes IceG of flow IceFlow, and shrinks in proportion if less is available. SD is the
// relative standard deviation of the lot's size; Key is that of its random numbers, unique unless SD is 0.
type Lot struct {
	Key     string
	G       float64
	Begun   int // slot in which its making begins, for Choice; it counts as begun after it
	From    int
	Until   int
	IceFlow int
	IceG    float64
	IceSlot int
	SD      float64
}

// Flow is an inventory that is replenished and used slot by slot. Each slot has loss, then production up to the capacity, then
// planned withdrawals (Taken and the ice of lots), then sales.
type Flow struct {
	Key         string // of its random numbers, unique
	Opening     float64
	CountAgeH   float64 // age of the count behind Opening, h
	Exact       bool    // no count error
	Ice         bool    // ice for drinks: sales missed while it is out are counted apart, as Sales.NoIce
	Capacity    float64
	LossPerSlot float64 // share
	Makers      []Maker
	Taken       []float64 // planned withdrawals, by slot; missing slots are 0
}

// Maker is an ice machine, mould set or water treatment that supplies a flow.
type Maker struct {
	Key   string    // of its random numbers, unique: its code
	G     []float64 // by slot, at the forecast temperature; missing slots are 0
	PerC  float64   // relative change of output per °C above the forecast temperature; below 0 for a machine
	SD    float64   // relative standard deviation of a day's output; below 0: Assumptions.OutputSD
	Exact bool      // no variation: a load counted by hand
}
