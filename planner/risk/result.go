package risk

import "hotday/planner/demand"

// Result summarises the runs. Lists are in the order of the input; means are over all runs.
type Result struct {
	Stocks  []Outlook
	Flows   []Outlook
	Levels  [][]Band    // of each flow, at the end of each slot
	Missed  []float64   // mean missed sales of each drink, servings
	Served  []float64   // mean sales of each drink, servings
	Sales   [][]Sales   // mean by service day and drink
	WasteG  []float64   // mean, of each stock
	AgingG  []float64   // mean of g × slots that each stock's sales were held, from ready to sold
	LotLeft [][]float64 // mean remainder of each lot of each stock when it expires or the horizon ends
	Decided []Decided   // by choice
	Costs   []float64   // by run: missed sales, what expires or is left, and the options of choices; nil without Input.Prices
}

// Sales is the demand for a drink in servings: sold and missed. NoIce is the part of Missed for which ice for drinks was out, whatever
// else was.
type Sales struct{ Sold, Missed, NoIce float64 }

// Outlook is the shortage of one stock or flow over the whole horizon and on each service day.
type Outlook struct {
	All  Shortage
	Days []Shortage
}

// Shortage is the distribution of a shortage. Amounts are those of the exhausted stock or flow that missed drinks would have
// taken, plus ice missing from batches.
type Shortage struct {
	Chance    float64 // share of runs with a shortage
	FirstSlot int     // median of the first slot with a shortage, over runs with one; −1 if there is none
	Median    float64 // of the amount, over runs with a shortage
	P90       float64 // of the amount, over runs with a shortage
	Mean      float64 // of the amount, over all runs
}

// Band holds quantiles of a level over the runs.
type Band struct{ P10, P50, P90 float64 }

// summarise computes the Shortage from the amounts and first slots (< 0: no shortage) of all runs.
func summarise(amounts []float64, slots []int32, scratch []float64) Shortage {
	out := Shortage{FirstSlot: -1}
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
	return out
}
