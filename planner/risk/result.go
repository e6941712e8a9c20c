package risk

import "hotday/planner/demand"

// Result is what the simulated days had in common. Lists are in the order of the input.
type Result struct {
	Simulated int // days, or weekends: runs over the whole horizon
	Stocks    []Outlook
	Flows     []Outlook
	Levels    [][]Band // of each flow, at the end of each slot
	Missed    []float64
	Served    []float64   // expected servings of each drink
	ShortCost float64     // expected
	WasteG    []float64   // expected, of each stock
	WasteCost float64     // expected
	LotLeft   [][]float64 // expected rest of each lot of each stock when it expires or the horizon ends
}

// Outlook is the shortage of one thing over the whole horizon and on each service day.
type Outlook struct {
	All  Shortage
	Days []Shortage
}

// Shortage is how likely something runs short and how. Amounts are of that thing: what the missed drinks would have taken of
// it, counted where it was used up, and the ice that a batch could not get.
type Shortage struct {
	Chance    float64 // share of the simulated days
	FirstSlot int     // median of the first short slot over the days that are short; −1 where none is
	EarlySlot int     // one short day in ten is short by then; −1 where none is
	Median    float64 // amount, over the days that are short
	P90       float64 // amount, over the days that are short
	Mean      float64 // amount, over all days
}

// Band is the range of a level: one run in ten lies below P10, one in ten above P90.
type Band struct{ P10, P50, P90 float64 }

// summarise turns the amounts and first slots of n runs (slot < 0: not short) into a Shortage; it may reorder amounts.
func summarise(amounts []float64, slots []int32, scratch []float64) Shortage {
	out := Shortage{FirstSlot: -1, EarlySlot: -1}
	n := float64(len(slots))
	short := scratch[:0]
	for i, s := range slots {
		if s >= 0 {
			out.Mean += amounts[i] / n
			short = append(short, amounts[i])
		}
	}
	if len(short) == 0 {
		return out
	}
	out.Chance = float64(len(short)) / n
	out.Median = demand.QuantileOf(short, 0.5)
	out.P90 = demand.QuantileOf(short, 0.9)
	short = short[:0]
	for _, s := range slots {
		if s >= 0 {
			short = append(short, float64(s))
		}
	}
	out.FirstSlot = int(demand.QuantileOf(short, 0.5) + 0.5)
	out.EarlySlot = int(demand.QuantileOf(short, 0.1) + 0.5)
	return out
}
