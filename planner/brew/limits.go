package brew

import "math"

// Limits are the limits of a brewer, g; 0 means unlimited. BeverageG is finished beverage.
type Limits struct{ MaxDoseG, MaxWaterG, MinBeverageG, MaxBeverageG float64 }

// Bound names the limit that determines the largest batch.
type Bound string

// The values of Bound.
const (
	ByBeverage Bound = "max_beverage_g"
	ByDose     Bound = "max_dose_g"
	ByWater    Bound = "max_water_g"
	Unbounded  Bound = ""
)

// LargestBatch is the most finished beverage, g, that the recipe gives in one run of the brewer, and the binding limit: +Inf
// and Unbounded if there is none.
func (r Recipe) LargestBatch(l Limits) (beverageG float64, by Bound) {
	beverageG = math.Inf(1)
	perDose := r.FinishedPerDose()
	consider := func(g float64, b Bound) {
		if g < beverageG {
			beverageG, by = g, b
		}
	}
	if l.MaxBeverageG > 0 {
		consider(l.MaxBeverageG, ByBeverage)
	}
	if l.MaxDoseG > 0 {
		consider(l.MaxDoseG*perDose, ByDose)
	}
	if l.MaxWaterG > 0 {
		consider(l.MaxWaterG/(r.Ratio*(1-r.IceShare))*perDose, ByWater)
	}
	return beverageG, by
}

// Runs splits beverageG g of finished beverage into n equal batches of eachG g within the limits. ok is false if a batch would
// fall below the brewer's minimum; eachG is then that minimum.
func (r Recipe) Runs(beverageG float64, l Limits) (n int, eachG float64, ok bool) {
	if beverageG <= 0 {
		return 0, 0, true
	}
	most, _ := r.LargestBatch(l)
	count := 1.0
	if !math.IsInf(most, 1) {
		count = max(1, math.Ceil(beverageG/most-1e-9))
	}
	eachG = beverageG / count
	if eachG < l.MinBeverageG {
		return int(count), l.MinBeverageG, false
	}
	return int(count), eachG, true
}
