package brew

import "math"

// Limits are a brewer's: g of dose and of brew water, g of finished beverage. 0 is no limit.
type Limits struct{ MaxDoseG, MaxWaterG, MinBeverageG, MaxBeverageG float64 }

// Bound names what sets the largest batch.
type Bound string

// The bounds.
const (
	ByBeverage Bound = "max_beverage_g"
	ByDose     Bound = "max_dose_g"
	ByWater    Bound = "max_water_g"
	Unbounded  Bound = ""
)

// LargestBatch is the most finished beverage, g, that one run of the brewer makes of the recipe, and what bounds it.
// +Inf and Unbounded where nothing does.
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

// Runs cuts beverageG g of finished beverage into equal batches within the limits: how many, and how much each. The last
// result is false when that is impossible: a batch would fall below the brewer's least, and each is then that least.
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
