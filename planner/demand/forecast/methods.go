package forecast

import (
	"math"
	"math/rand/v2"
)

// The methods, in the order of their weights.
const (
	byRegression = iota
	byBoosting
	byForest
	byStackedForest
	methodCount
)

// learners are the models fitted to the history up to one day, by series.
type learners struct {
	Regression *regression
	Boosting   *boosting
	Forests    [][2]*forest // plain and stacked; nil if not grown
	Scale      []float64    // mean demand
}

// effort limits how much of the learners is fitted.
type effort struct {
	trees    int            // per forest
	rows     int            // of the boosting sample, at most
	boosting bool           // refit the boosting, else keep the previous one
	grow     func(int) bool // series whose forests are grown, the others keep the previous ones
	seed     uint64
}

// fitLearners fits the learners to the days of all series up to and including day o. previous, which may be nil, warm-starts the
// regression and supplies the models that are not refitted.
func fitLearners(all []*series, o int, use [weatherVars]bool, w effort, previous *learners) *learners {
	f := &learners{Forests: make([][2]*forest, len(all)), Scale: make([]float64, len(all))}
	samples := samplesOf(all, o, use)
	for i, m := range samples {
		f.Scale[i] = m.scale
	}
	var warm *regression
	if previous != nil {
		warm, f.Boosting = previous.Regression, previous.Boosting
		copy(f.Forests, previous.Forests)
	}
	f.Regression = fitRegression(samples, use, warm)
	if w.boosting {
		f.Boosting = fitBoosting(samples, w.rows)
	}
	for i, m := range samples {
		if w.grow(i) {
			rng := rand.New(rand.NewPCG(w.seed, uint64(i)))
			f.Forests[i] = [2]*forest{fitForest(m, false, w.trees, rng), fitForest(m, true, w.trees, rng)}
		}
	}
	return f
}

// predictions are the methods' forecasts of one day: the means of the first two, and the forests' quantiles on the grid, nil
// where a forest had too little data.
type predictions struct {
	Regression, Boosting float64
	Forest, Led          []float32 // Led: of the stacked forest
}

// predict forecasts day t of series s, with index i (−1: cold start), as seen at the end of day o. A day hotter than any in the
// history is predicted at the highest known temperature by all methods but the regression, and scaled by the ratio of the
// regression's means. ok is false if nothing is known of the series.
func (f *learners) predict(s *series, i, t, o int, c *climate) (v predictions, ok bool) {
	var x [features]float64
	if !s.fillFeatures(t, o, c.Use, x[:]) {
		return v, false
	}
	scale := s.scaleFor(f, i, o)
	v.Regression = f.Regression.mean(i, scale, x[:])
	regMean, ratio := v.Regression, 1.0
	if x[fTemp] > c.Hotter && c.Use[wTemp] {
		x[fTemp] = c.Hotter
		regMean = f.Regression.mean(i, scale, x[:])
		ratio = math.Min(math.Max(v.Regression/regMean, 1), 2)
	}
	v.Boosting = ratio * f.Boosting.mean(i, scale, x[:], regMean)
	if i < 0 {
		return v, true
	}
	q := make([]float32, 2*len(grid))
	if f.Forests[i][0].quantiles(x[:], regMean, grid, q[:len(grid)]) {
		v.Forest = scaleQuantiles(q[:len(grid)], ratio)
	}
	if f.Forests[i][1].quantiles(x[:], regMean, grid, q[len(grid):]) {
		v.Led = scaleQuantiles(q[len(grid):], ratio)
	}
	return v, true
}

func scaleQuantiles(q []float32, by float64) []float32 {
	if by != 1 {
		for k := range q {
			q[k] *= float32(by)
		}
	}
	return q
}

func (s *series) scaleFor(f *learners, i, o int) float64 {
	if i >= 0 {
		return f.Scale[i]
	}
	m, _ := s.meanTo(o) // of the borrowed demand
	return math.Max(m, 1e-3)
}

// quantiles writes every method's quantiles on the grid, with the dispersion of the first two. A forest without quantiles is
// replaced by the boosting.
func (v *predictions) quantiles(spread [2]float64, dst *[methodCount][gridSize]float64) {
	negativeBinomial(v.Regression, spread[0], dst[byRegression][:])
	negativeBinomial(v.Boosting, spread[1], dst[byBoosting][:])
	for k, q := range [2][]float32{v.Forest, v.Led} {
		if q == nil {
			dst[byForest+k] = dst[byBoosting]
			continue
		}
		for l, x := range q {
			dst[byForest+k][l] = float64(x)
		}
	}
}
