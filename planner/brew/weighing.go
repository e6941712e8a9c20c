package brew

import "math"

// The international ounce and pound: exact by definition.
const (
	gPerOunce = 28.349523125
	gPerPound = 16 * gPerOunce
)

// Weighing is how a kitchen weighs: in grams or ounces, on a scale of some resolution. Amounts are rounded to steps that a hand can
// hit; the steps are common practice, no source.
type Weighing struct {
	ScaleG float64 // resolution of the scale, g; 0: 1 g
	Ounces bool
}

// step is the coarsest step of an amount below a limit, g. Finer ones follow in the list of its ladder.
type step struct{ below, g float64 }

// Steps from coarse to fine. An amount begins at the first step whose limit it is not below.
var (
	doseSteps       = []step{{200, 5}, {0, 1}, {0, 0.5}, {0, 0.1}}
	waterSteps      = []step{{5000, 50}, {1500, 10}, {0, 5}, {0, 1}, {0, 0.5}, {0, 0.1}}
	doseStepsOunce  = []step{{7 * gPerOunce, 0.25 * gPerOunce}, {0, 0.1 * gPerOunce}, {0, 0.05 * gPerOunce}, {0, 0.01 * gPerOunce}}
	waterStepsOunce = []step{{10 * gPerPound, 2 * gPerOunce}, {3 * gPerPound, 0.5 * gPerOunce}, {0, 0.2 * gPerOunce}, {0, 0.1 * gPerOunce},
		{0, 0.05 * gPerOunce}, {0, 0.01 * gPerOunce}}
)

// DoseSteps returns the steps for a coffee dose of about g, from coarse to fine, g: 5 g from 200 g on, else 1 g; a quarter of an ounce
// from 7 oz on, else a tenth. Finer ones are for doses that those would change too much; none is finer than the scale.
func (w Weighing) DoseSteps(g float64) []float64 {
	if w.Ounces {
		return w.ladder(doseStepsOunce, g)
	}
	return w.ladder(doseSteps, g)
}

// WaterSteps returns the steps for brew water, or for ice to stir in, of about g, as DoseSteps: 50 g from 5 kg on, 10 g from 1.5 kg
// on, else 5 g; 2 oz from 10 lb on, half an ounce from 3 lb on, else a fifth.
func (w Weighing) WaterSteps(g float64) []float64 {
	if w.Ounces {
		return w.ladder(waterStepsOunce, g)
	}
	return w.ladder(waterSteps, g)
}

// BathIce rounds ice for an ice bath up to 0.1 kg, or to a quarter of a pound, or to the scale's resolution if that is coarser.
func (w Weighing) BathIce(g float64) float64 {
	step := 100.0
	if w.Ounces {
		step = gPerPound / 4
	}
	step = w.least(step)
	return tidy(math.Ceil(g/step-1e-9) * step)
}

// SizeStep is the step between the sizes of batches where a brewer lists none, g.
func (w Weighing) SizeStep() float64 {
	if w.Ounces {
		return 4 * gPerOunce
	}
	return 100
}

func (w Weighing) scale() float64 {
	if w.ScaleG > 0 {
		return w.ScaleG
	}
	return 1
}

// ounceScales are the resolutions of scales that show ounces, oz.
var ounceScales = []float64{0.01, 0.05, 0.1, 0.2, 0.5, 1, 2}

// shown is the finest step that the scale shows, g. One of 1 g shows 0.05 oz, one of 5 g 0.2 oz.
func (w Weighing) shown() float64 {
	if !w.Ounces {
		return w.scale()
	}
	for _, oz := range ounceScales {
		if oz*gPerOunce >= w.scale()-1e-9 {
			return oz * gPerOunce
		}
	}
	return math.Ceil(w.scale()/gPerOunce-1e-9) * gPerOunce
}

// least is the step made a multiple of the finest step that the scale shows.
func (w Weighing) least(step float64) float64 {
	s := w.shown()
	return tidy(math.Ceil(step/s-1e-9) * s)
}

func (w Weighing) ladder(steps []step, g float64) []float64 {
	out := make([]float64, 0, len(steps))
	for _, s := range steps {
		if g < s.below {
			continue
		}
		x := w.least(s.g)
		if n := len(out); n == 0 || x < out[n-1] {
			out = append(out, x)
		}
		if s.g <= w.shown() { // the scale is no finer
			break
		}
	}
	return out
}

// ToStep rounds g to a multiple of the step.
func ToStep(g, step float64) float64 { return tidy(math.Round(g/step) * step) }

// tidy removes the rounding error of a multiple of a decimal step.
func tidy(g float64) float64 { return math.Round(g*1e9) / 1e9 }
