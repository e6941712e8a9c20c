package learnt

import (
	"math"
	"slices"
)

// IceFit is what the counts of an ice bin say. Ranges are lognormal.
type IceFit struct {
	N        int        // spans between counts that say something
	AirC     [3]float64 // air temperatures that one step in ten stays below, the mean, and that nine in ten stay below, °C
	Output   [][3]Ratio // of each machine at AirC, to the set-up's
	PriorSD  float64    // relative standard deviation of the prior of Output
	Loss     Ratio      // of the bin's loss, to LossPctPerH
	LossPct  float64    // prior median of the loss, %/h
	Served   Ratio      // of the ice served, to the set-up's
	SlopeC   float64    // change of output for 1 °C beyond the set-up's, as a share
	SlopeSD  float64
	Reliable bool // false: the counts contradict one another, nothing is learnt
}

// Ratio is an estimate of a factor: its median and 90 % range.
type Ratio struct{ Median, Low, High float64 }

func ratioOf(mean, sd float64) Ratio {
	return Ratio{math.Exp(mean), math.Exp(mean - z90*sd), math.Exp(mean + z90*sd)}
}

// Fit estimates the machines, the loss and the ice served together, since one bin's counts depend on them all.
func (s *IceShop) Fit() IceFit {
	out := IceFit{N: s.spans(), PriorSD: math.Hypot(machinesSD, machineSD)}
	var airs []float64
	for i := range s.Steps {
		if !s.Steps[i].Unknown {
			airs = append(airs, s.Steps[i].AirC)
		}
	}
	if out.N == 0 || len(airs) == 0 || s.BinG <= 0 {
		return out
	}
	slices.Sort(airs)
	m := newIceModel(s)
	out.AirC = [3]float64{math.Round(airs[len(airs)/10]), math.Round(m.meanC), math.Round(airs[len(airs)*9/10])}
	k := len(s.Machines)
	steps := make([]float64, m.params())
	for i := range k {
		steps[i] = 0.03
	}
	copy(steps[k:], []float64{0.3, 0.03, 0.003, 0.25})
	g, ok := laplace(m.logPosterior, make([]float64, m.params()), steps)
	if !ok {
		return out
	}
	out.Reliable = true
	out.LossPct = m.lossPct
	for i := range k {
		var r [3]Ratio
		for j, c := range out.AirC {
			w := make([]float64, m.params())
			w[i], w[k+slopeParam] = 1, c-m.meanC
			r[j] = ratioOf(g.along(w))
		}
		out.Output = append(out.Output, r)
	}
	one := func(p int) (float64, float64) {
		w := make([]float64, m.params())
		w[k+p] = 1
		return g.along(w)
	}
	out.Loss, out.Served = ratioOf(one(lossParam)), ratioOf(one(servedParam))
	out.SlopeC, out.SlopeSD = one(slopeParam)
	return out
}

// spans is the number of spans between two counts without an unknown step.
func (s *IceShop) spans() int {
	n := 0
	for i := 1; i < len(s.Counts); i++ {
		a, b := s.Counts[i-1].Step, s.Counts[i].Step
		if a < b && b <= len(s.Steps) && !slices.ContainsFunc(s.Steps[a:b], func(x IceStep) bool { return x.Unknown }) {
			n++
		}
	}
	return n
}
