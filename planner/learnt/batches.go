package learnt

import (
	"math"

	"hotday/planner/brew"
	"hotday/planner/chill"
)

// Brewed is a batch that was weighed or whose strength was measured, of a beverage by its recipe. Masses in g.
type Brewed struct {
	Brewer    string
	DoseG     float64
	WaterG    float64 // brew water
	IceG      float64 // stirred in
	BeverageG float64 // finished; 0: not weighed
	TDSPct    float64 // finished, %; 0: not measured
}

// Priors and measurement errors of batches, relative.
const (
	retentionSD = 0.15
	yieldSD     = 0.12
	weighingErr = 0.015 // of a batch's finished beverage against its dose
	strengthErr = 0.03  // of a refractometer's reading of a batch
)

// Scalar is the estimate of one value: its prior, and its posterior's median and 90 % range.
type Scalar struct {
	N                int
	PriorSD          float64
	Value, Low, High float64
	narrowing        float64 // standard deviation of the logarithm, to the prior's
}

func scalarOf(p prior, n int, q posterior) Scalar {
	return Scalar{N: n, PriorSD: p.SD, Value: q.quantile(0.5), Low: q.quantile(0.05), High: q.quantile(0.95), narrowing: q.logSD() / p.logSD()}
}

// Retention estimates the retained_ratio of a beverage from batches that were weighed: what was poured in and dissolved, less what came
// out. retained and maxYieldPct are the set-up's.
func Retention(batches []Brewed, retained, maxYieldPct float64) Scalar {
	var perDose, in []float64
	for _, b := range batches {
		if b.BeverageG > 0 && b.DoseG > 0 {
			perDose = append(perDose, math.Log(b.BeverageG/b.DoseG))
			in = append(in, (b.WaterG+b.IceG)/b.DoseG+maxYieldPct/100)
		}
	}
	p := prior{retained, retentionSD}
	return scalarOf(p, len(in), p.update(len(in), weighingErr, func(i int, x, sd float64) float64 {
		out := in[i] - math.Exp(x)
		if out <= 0 {
			return logT(math.Inf(1), sd)
		}
		return logT(perDose[i]-math.Log(out), sd)
	}))
}

// Strength estimates the max_yield_pct of a beverage from the strength of its batches, %, with grounds that retain so much liquid.
// maxYieldPct is the set-up's.
func Strength(batches []Brewed, retained, maxYieldPct float64) Scalar {
	var measured []Brewed
	for _, b := range batches {
		if _, ok := b.tdsPct(retained, maxYieldPct); ok && b.TDSPct > 0 {
			measured = append(measured, b)
		}
	}
	p := prior{maxYieldPct, yieldSD}
	return scalarOf(p, len(measured), p.update(len(measured), strengthErr, func(i int, x, sd float64) float64 {
		b := &measured[i]
		tds, ok := b.tdsPct(retained, math.Exp(x))
		if !ok {
			return logT(math.Inf(1), sd)
		}
		return logT(math.Log(b.TDSPct/tds), sd)
	}))
}

// tdsPct is the modelled strength of the finished batch, %.
func (b *Brewed) tdsPct(retained, maxYieldPct float64) (tds float64, ok bool) {
	x, err := brew.Extract(b.DoseG, b.WaterG, retained, maxYieldPct)
	if err != nil || x.BeverageG+b.IceG <= 0 {
		return 0, false
	}
	return x.TDSPct * x.BeverageG / (x.BeverageG + b.IceG), true
}

// Cooled is a temperature read in a batch that cools.
type Cooled struct {
	MassG    float64
	FromC    float64
	AmbientC float64
	Minutes  float64 // since FromC
	ReadC    float64
}

// Priors and errors of cooling, relative. The heat transfer of a batch may grow with its mass.
const (
	coolingSD  = 0.35
	coolingErr = 0.12
	powerSD    = 0.3
	powers     = 13 // grid points, three standard deviations either way
)

// Cooling is the estimate of the heat transfer from batches of a beverage, W/K, at given sizes.
type Cooling struct {
	UA Scalar   // at FullG
	At []Scalar // at the sizes asked for
}

// CoolingOf estimates a beverage's cooling_ua_w_per_k, of which uaWPerK is the set-up's, for batches of fullG and of the sizes given, from
// readings while they cool: m·c·ln((T0−Ta)/(T−Ta))/t, as in chill.CoolingMinutes, with a heat transfer that may grow with the mass.
func CoolingOf(readings []Cooled, uaWPerK, fullG float64, sizes []float64) Cooling {
	var logUA, logSize []float64
	for _, r := range readings {
		at1 := chill.CoolingMinutes(r.MassG, r.FromC, r.AmbientC, 1, r.ReadC)
		if r.Minutes > 0 && at1 > 0 && !math.IsInf(at1, 0) {
			logUA, logSize = append(logUA, math.Log(at1/r.Minutes)), append(logSize, math.Log(r.MassG/fullG))
		}
	}
	p := prior{uaWPerK, coolingSD}
	n := len(logUA)
	out := Cooling{}
	// The grid is over the heat transfer of a full batch; the power is integrated over, and weighs each size's own posterior.
	var joint []float64
	byPower := make([]posterior, powers)
	for k := range powers {
		q := powerAt(k)
		z := q / powerSD
		byPower[k] = p.update(n, coolingErr, func(i int, x, sd float64) float64 { return logT(logUA[i]-x-q*logSize[i], sd) })
		joint = append(joint, byPower[k].evidence-z*z/2)
	}
	normalise(joint)
	at := func(size float64) Scalar {
		shift := math.Log(size / fullG)
		mixed := posterior{log: byPower[0].log, weight: make([]float64, gridPoints)}
		step := mixed.log[1] - mixed.log[0]
		for k, w := range joint {
			off := powerAt(k) * shift / step
			whole := math.Floor(off)
			for i, x := range byPower[k].weight {
				mixed.add(i+int(whole), w*x*(1-(off-whole)))
				mixed.add(i+int(whole)+1, w*x*(off-whole))
			}
		}
		return scalarOf(p, n, mixed)
	}
	out.UA = at(fullG)
	for _, s := range sizes {
		out.At = append(out.At, at(s))
	}
	return out
}

func powerAt(k int) float64 { return 3 * powerSD * (2*float64(k)/(powers-1) - 1) }

// Ended is a batch whose end is known: thrown away, or used up.
type Ended struct {
	Hours     float64 // after it was ready
	Discarded bool    // false: it was used up, or kept on, so it would have kept longer
}

// Prior and error of how long a batch keeps, relative.
const (
	holdSD  = 0.3
	holdErr = 0.15
)

// Hold estimates how long a beverage keeps, h, of which holdH is the set-up's, from batches that were thrown away and those that were used
// up before.
func Hold(batches []Ended, holdH float64) Scalar {
	p := prior{holdH, holdSD}
	n := 0
	for _, b := range batches {
		if b.Discarded {
			n++
		}
	}
	q := p.update(len(batches), holdErr, func(i int, x, sd float64) float64 {
		b := &batches[i]
		if b.Hours <= 0 {
			return 0
		}
		d := math.Log(b.Hours) - x
		if b.Discarded {
			return logT(d, sd)
		}
		return math.Log(0.02 + 0.98*normalCDF(-d/sd)) // one in fifty stays unnoticed
	})
	return scalarOf(p, n, q)
}
