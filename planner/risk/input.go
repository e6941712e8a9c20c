package risk

import "hotday/planner/demand"

// Input is a plan as the simulation needs it. Masses are g (a tank may count ml: any unit, one for each stock or flow), slots
// count from 0, days are service days from 0.
type Input struct {
	Slots  int
	SlotH  float64 // length of a slot, h
	Drinks []Drink
	Rows   []Row
	Stocks []Stock // beverages and coffees: anything held in lots
	Flows  []Flow  // drink ice, treated water: anything made and taken slot by slot
	Days   []Day
	Assume Assumptions
}

// Drink is what one serving takes. A drink that lacks any of it is missed and takes nothing.
type Drink struct {
	Stocks    []Take
	Flows     []Take
	ShortCost float64 // of a serving missed, any currency unit
}

// Take is an amount of the stock or flow at Index of the input's list. An index that does not exist is left out.
type Take struct {
	Index int
	G     float64
}

// Row is the demand of one drink in one day part of a service day.
type Row struct {
	Key   string // of its random numbers; unique: date, day part and drink
	Drink int
	Day   int
	Range demand.Range
	Slot  int       // first slot
	Share []float64 // of the row's demand, slot by slot; adds up to at most 1
}

// Day is a service day: it ends where slot Until begins, and with the night before it starts where the day before ends.
type Day struct {
	Until     int
	AheadDays float64
}

// Stock is held in lots; lots are used in the order in which they expire.
type Stock struct {
	WasteCost float64 // of a g thrown away
	Lots      []Lot
}

// Lot may be used in slots From … Until−1. What is left when it expires within the horizon is waste. Where IceG is above 0 the
// lot is a batch still to be made: in slot IceSlot it takes IceG of flow IceFlow, and where less is there it becomes as much
// smaller. SD is the relative standard deviation of the lot's size; Key, unique, names its random numbers and may be empty
// where SD is 0.
type Lot struct {
	Key     string
	G       float64
	From    int
	Until   int
	IceFlow int
	IceG    float64
	IceSlot int
	SD      float64
}

// Flow is a store that is filled and drawn from slot by slot. In each slot: loss, then making up to the capacity, then what
// is planned to be taken (Taken and the lots' ice), then what is served.
type Flow struct {
	Key         string // of its random numbers; unique
	Opening     float64
	CountAgeH   float64 // age of the count that Opening comes from, h
	Exact       bool    // the opening is known: no count error
	Capacity    float64
	LossPerSlot float64 // share
	Makes       []Make
	Taken       []float64 // by slot; shorter: 0
}

// Make is one machine or mould set filling a flow.
type Make struct {
	Key   string    // of its random numbers; unique: its code
	G     []float64 // by slot, at the forecast temperature; shorter: 0
	PerC  float64   // relative change of output for a °C that the air is warmer than forecast; below 0 for a machine
	SD    float64   // relative standard deviation of a day's output; below 0: the assumption's
	Exact bool      // neither varies: a load counted by hand
}
