package planner

import (
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
)

// amounts are what people weigh out for a batch, and what follows from it. They are made here alone: plan, curves, balances and money
// all read them.
type amounts struct {
	doseG, waterG, iceG float64 // coffee, brew water, and ice to stir in
	g                   float64 // finished beverage; the size that people know is close to it
	ext                 brew.Extraction
	after               chill.State
}

// How far rounding may change a recipe. Where a step changes it more, a finer one is used, down to the scale's resolution.
const (
	ratioWithin = 0.01 // as a share
	tdsWithin   = 0.02 // % of mass
	tempWithinK = 0.5
)

// weighingOf returns how a site weighs.
func weighingOf(site *models.Site) brew.Weighing {
	return brew.Weighing{ScaleG: site.ScaleG, Ounces: site.Shown().Mass == models.OuncesPounds}
}

// proportional returns the unrounded amounts of g g of finished beverage: for a batch that was weighed when it was made.
func (r *recipe) proportional(g float64) amounts {
	a := r.brew.ForBeverage(g)
	return r.mixed(a.DoseG, a.BrewWaterG, a.IceG)
}

// mixed returns the batch that a dose, brew water and ice give; its g is 0 if there is too little water.
func (r *recipe) mixed(doseG, waterG, iceG float64) amounts {
	x, err := brew.Extract(doseG, waterG, r.brew.RetainedRatio, r.brew.MaxYieldPct)
	if err != nil {
		return amounts{}
	}
	mix := chill.Mix{BeverageG: x.BeverageG, BeverageC: r.beforeC, TDSPct: x.TDSPct, IceG: iceG, IceC: r.iceC, WetShare: r.wetShare}
	return amounts{doseG: doseG, waterG: waterG, iceG: iceG, g: x.BeverageG + iceG, ext: x, after: mix.Settle()}
}

// forDose returns the amounts for a dose: water and ice by the recipe, in the coarsest steps that keep ratio, strength and temperature,
// or, if exactly, in the finest.
func (r *recipe) forDose(doseG float64, exactly bool) amounts {
	exact := r.brew.ForDose(doseG)
	water, ice := r.weighing.WaterSteps(exact.BrewWaterG), r.weighing.WaterSteps(exact.IceG)
	var a amounts
	for level := range max(len(water), len(ice)) {
		a = r.mixed(doseG, brew.ToStep(exact.BrewWaterG, water[min(level, len(water)-1)]), brew.ToStep(exact.IceG, ice[min(level, len(ice)-1)]))
		if !exactly && r.keeps(&a) {
			break
		}
	}
	return a
}

// keeps reports whether rounded amounts are still the recipe.
func (r *recipe) keeps(a *amounts) bool {
	return a.g > 0 && math.Abs((a.waterG+a.iceG)/a.doseG/r.brew.Ratio-1) <= ratioWithin &&
		math.Abs(a.after.FinalTDSPct-r.after.FinalTDSPct) <= tdsWithin && math.Abs(a.after.FinalC-r.after.FinalC) <= tempWithinK
}

// weighed returns the amounts of a batch of about sizeG g of finished beverage on a brewer: the dose in the coarsest step with which
// the batch stays within the brewer's limits, the rest from the dose. If no step does, since smallest and largest batch are closer than
// the scale's resolution, it is the largest batch that is not above the largest. ok is false if the brewer or the scale has none.
func (r *recipe) weighed(sizeG float64, w *models.Brewer) (a amounts, ok bool) {
	dose := r.doseFor(sizeG)
	steps := r.weighing.DoseSteps(dose)
	for _, step := range steps {
		near := brew.ToStep(dose, step)
		next := math.Copysign(step, dose-near)
		for _, d := range [...]float64{near, near + next, near - next} {
			if d = brew.ToStep(d, step); d <= 0 {
				continue
			}
			if a = r.forDose(d, false); r.fits(&a, w) && a.g >= w.MinBeverageG-1e-6 {
				return a, true
			}
		}
	}
	step := steps[len(steps)-1]
	for d := brew.ToStep(math.Ceil(dose/step)*step, step); d > dose-2*step && d > 0; d = brew.ToStep(d-step, step) {
		if a = r.forDose(d, true); r.fits(&a, w) {
			return a, true
		}
	}
	return amounts{}, false
}

// fits reports whether a batch fits vessel and basket.
func (r *recipe) fits(a *amounts, w *models.Brewer) bool {
	return a.g > 0 && a.g <= w.MaxBeverageG+1e-6 && (w.MaxDoseG == nil || a.doseG <= *w.MaxDoseG+1e-6) && (w.MaxWaterG == nil || a.waterG <= *w.MaxWaterG+1e-6)
}

// maxSizes bounds the sizes of a brewer that lists none; a brewer of more has sizes ten times as far apart.
const maxSizes = 500

// sizes returns the batches that a brewer can make of the recipe, smallest first: of the sizes that it lists, else of every multiple
// of the site's step, and where none fits, of its largest batch. A listed size that does not fit the basket is left out.
func (r *recipe) sizes(w *models.Brewer) []amounts {
	lo, hi, ok := r.limits(w)
	if !ok {
		return nil
	}
	nominal := w.SizesG
	if len(nominal) == 0 {
		nominal = r.multiples(lo, hi)
	} else {
		lo = w.MinBeverageG
	}
	var out []amounts
	for _, g := range slices.Sorted(slices.Values(nominal)) {
		if g < lo*(1-1e-9) || g > hi*(1+1e-9) {
			continue
		}
		if a, ok := r.weighed(g, w); ok && (len(out) == 0 || a.g > out[len(out)-1].g+1e-6) {
			out = append(out, a)
		}
	}
	return out
}

func (r *recipe) multiples(lo, hi float64) []float64 {
	step := r.weighing.SizeStep()
	for hi/step > maxSizes {
		step *= 10
	}
	var out []float64
	for n := math.Ceil(lo/step - 1e-9); n*step <= hi*(1+1e-9); n++ {
		out = append(out, n*step)
	}
	if len(out) == 0 {
		out = append(out, hi)
	}
	return out
}

// underWay returns the amounts of a batch of g g that is started or made: those of the size that it was planned with, else, where it
// was weighed when it was made, in proportion.
func (r *recipe) underWay(g float64, w *models.Brewer) amounts {
	if w != nil {
		for _, a := range r.sizes(w) {
			if math.Abs(a.g-g) < 0.5 {
				return a
			}
		}
	}
	a := r.proportional(g)
	a.g = g
	return a
}
