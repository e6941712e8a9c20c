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

	joint gaussian
	meanC float64
	setUp float64 // the set-up's loss, to LossPct, logarithm
}

// IceChanges are the changes of a set-up's ice that are taken together; the others stay as they are.
type IceChanges struct {
	Machines     []bool
	Slope        bool // of the machines that change
	Loss, Served bool
}

// IceFactors are the factors of a change: of each machine at the air temperatures of the fit, of the loss, to LossPct, and of the ice served.
type IceFactors struct {
	Output       [][3]float64
	Loss, Served float64
}

// Taking is what fits the counts best where only some values change. One bin's counts say more about the balance of its ice than about its
// parts: a machine's estimate goes with that of the ice served, and would be wrong beside the set-up's.
func (f *IceFit) Taking(c IceChanges) IceFactors {
	k := len(f.Output)
	fixed := make([]float64, len(f.joint.mode))
	for i := range fixed {
		fixed[i] = math.NaN()
	}
	for i, taken := range c.Machines {
		if !taken {
			fixed[i] = 0
		}
	}
	if !c.Slope {
		fixed[k+slopeParam] = 0
	}
	if !c.Loss {
		fixed[k+lossParam] = f.setUp
	}
	if !c.Served {
		fixed[k+servedParam] = 0
	}
	x, ok := f.joint.given(fixed)
	if !ok {
		x = f.joint.mode
	}
	out := IceFactors{Loss: math.Exp(x[k+lossParam]), Served: math.Exp(x[k+servedParam])}
	for i := range k {
		var r [3]float64
		for j, airC := range f.AirC {
			r[j] = math.Exp(x[i] + x[k+slopeParam]*(airC-f.meanC))
		}
		out.Output = append(out.Output, r)
	}
	return out
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
	out.Reliable, out.joint, out.meanC = true, g, m.meanC
	out.LossPct, out.setUp = m.lossPct, math.Log(max(s.LossPctPerH, leastLossPctPerH/10)/m.lossPct)
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
