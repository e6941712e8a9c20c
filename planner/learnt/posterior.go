package learnt

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// posterior is the distribution of a positive value on a grid that is uniform in its logarithm.
type posterior struct {
	log    []float64 // grid
	weight []float64 // sums to 1

	evidence float64 // logarithm of the likelihood, integrated, up to a constant
}

// add adds weight at point i, or at the nearest that the grid has.
func (p posterior) add(i int, w float64) { p.weight[min(max(0, i), len(p.weight)-1)] += w }

// Sizes of the grids: of the value, over gridSDs standard deviations of the prior either way, and of the measurement error, from half to
// four times what is assumed.
const (
	gridPoints  = 161
	gridSDs     = 5.0
	errorLevels = 7
)

// tails is the degrees of freedom of the measurement errors: Student's t, so that a slip of the scale or a batch cut short moves the
// estimate little (Lange, Little & Taylor 1989, from memory).
const tails = 4

// prior is a lognormal prior about a value, with its relative standard deviation.
type prior struct{ Median, SD float64 }

func (p prior) logSD() float64 { return math.Sqrt(math.Log1p(p.SD * p.SD)) }

// update is the posterior of a value given n observations. logLikelihood is that of observation i for a value whose logarithm is x, with
// a measurement error of sd, about errorSD: it is estimated as well.
func (p prior) update(n int, errorSD float64, logLikelihood func(i int, x, sd float64) float64) posterior {
	s := p.logSD()
	mid := math.Log(p.Median)
	out := posterior{log: make([]float64, gridPoints), weight: make([]float64, gridPoints)}
	joint := make([]float64, 0, gridPoints*errorLevels)
	for i := range gridPoints {
		z := gridSDs * (2*float64(i)/(gridPoints-1) - 1)
		out.log[i] = mid + z*s
		for k := range errorLevels {
			sd, logPrior := errorLevel(errorSD, k)
			sum := logPrior - z*z/2
			for j := range n {
				sum += logLikelihood(j, out.log[i], sd)
			}
			joint = append(joint, sum)
		}
	}
	out.evidence = normalise(joint)
	for i := range gridPoints {
		for k := range errorLevels {
			out.weight[i] += joint[i*errorLevels+k]
		}
	}
	return out
}

// errorLevel is level k of the measurement error, and the logarithm of its prior weight.
func errorLevel(errorSD float64, k int) (sd, logPrior float64) {
	step := float64(k)/2 - 1 // powers of two: −1 … 2
	return errorSD * math.Exp2(step), -step * step / 2
}

// normalise turns log weights into weights that sum to 1, and returns the logarithm of their sum before.
func normalise(logs []float64) float64 {
	top := math.Inf(-1)
	for _, x := range logs {
		top = max(top, x)
	}
	sum := 0.0
	for i, x := range logs {
		logs[i] = math.Exp(x - top)
		sum += logs[i]
	}
	for i := range logs {
		logs[i] /= sum
	}
	return top + math.Log(sum)
}

// quantile is the value below which a share q of the distribution lies.
func (p posterior) quantile(q float64) float64 {
	sum := 0.0
	step := p.log[1] - p.log[0]
	for i, w := range p.weight {
		if sum+w >= q {
			return math.Exp(p.log[i] + step*((q-sum)/w-0.5))
		}
		sum += w
	}
	return math.Exp(p.log[len(p.log)-1])
}

// logSD is the standard deviation of the value's logarithm.
func (p posterior) logSD() float64 {
	mean, square := 0.0, 0.0
	for i, w := range p.weight {
		mean += w * p.log[i]
		square += w * p.log[i] * p.log[i]
	}
	return math.Sqrt(max(0, square-mean*mean))
}

// logT is the logarithm of the density of Student's t with tails degrees of freedom, at a distance of d, on a scale of sd, up to a constant.
func logT(d, sd float64) float64 {
	z := d / sd
	return -(tails+1)/2.0*math.Log1p(z*z/tails) - math.Log(sd)
}

// normalCDF is the standard normal distribution function.
func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// z90 is the half-width of a 90 % range in standard deviations.
var z90 = distuv.UnitNormal.Quantile(0.95)
