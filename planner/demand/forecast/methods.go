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
	byLedForest
	methodCount
)

// MethodNames says the methods in words, in the order of weights.
var MethodNames = [methodCount]string{"regression", "boosted trees", "quantile forest", "quantile forest over the regression"}

// fitted is all learners fitted to what was known at the end of one day, by series.
type fitted struct {
	Regression *regression
	Boosting   *boosting
	Forests    [][2]*forest // on its own, led by the regression; nil where none was grown
	Scale      []float64    // mean demand
}

// work says how much of the learners to grow.
type work struct {
	trees    int            // of a forest
	rows     int            // that the boosting sees at most
	boosting bool           // or keep the last one
	grow     func(int) bool // which series' forests to grow
	seed     uint64
}

// fit learns from the days of all series up to and with day o. before, which may be nil, warms the regression and stands in for
// what is not grown anew.
func fit(all []*series, o int, use [weathers]bool, w work, before *fitted) *fitted {
	f := &fitted{Forests: make([][2]*forest, len(all)), Scale: make([]float64, len(all))}
	samples := make([]*sample, len(all))
	for i, s := range all {
		samples[i] = take(s, i, o, use)
		f.Scale[i] = samples[i].scale
	}
	var warm *regression
	if before != nil {
		warm, f.Boosting = before.Regression, before.Boosting
		copy(f.Forests, before.Forests)
	}
	f.Regression = fitRegression(samples, use, warm)
	if w.boosting {
		f.Boosting = fitBoosting(samples, w.rows)
	}
	for i, m := range samples {
		if w.grow(i) {
			chance := rand.New(rand.NewPCG(w.seed, uint64(i)))
			f.Forests[i] = [2]*forest{fitForest(m, false, w.trees, chance), fitForest(m, true, w.trees, chance)}
		}
	}
	return f
}

// view is what the methods say of one day: the means of the first two, the quantiles on the grid of the forests (nil where they
// know too little).
type view struct {
	Regression, Boosting float64
	Forest, Led          []float32
}

// look asks the methods about day t of series s, number i (−1: one they have not seen), as seen at the end of day o. A day hotter
// than any seen is read as the hottest seen by all but the regression, and then moved as the regression moves. ok is false where
// nothing at all is known.
func (f *fitted) look(s *series, i, t, o int, c *climate) (v view, ok bool) {
	var x [features]float64
	if !s.fill(t, o, c.Use, x[:]) {
		return v, false
	}
	scale := s.scaleFor(f, i, o)
	v.Regression = f.Regression.mean(i, scale, x[:])
	lead, ratio := v.Regression, 1.0
	if x[fTemp] > c.Hotter && c.Use[wTemp] {
		x[fTemp] = c.Hotter
		lead = f.Regression.mean(i, scale, x[:])
		ratio = math.Min(math.Max(v.Regression/lead, 1), 2)
	}
	v.Boosting = ratio * f.Boosting.mean(i, scale, x[:], lead)
	if i < 0 {
		return v, true
	}
	q := make([]float32, 2*len(grid))
	if f.Forests[i][0].quantiles(x[:], lead, grid, q[:len(grid)]) {
		v.Forest = times(q[:len(grid)], ratio)
	}
	if f.Forests[i][1].quantiles(x[:], lead, grid, q[len(grid):]) {
		v.Led = times(q[len(grid):], ratio)
	}
	return v, true
}

func times(q []float32, by float64) []float32 {
	if by != 1 {
		for k := range q {
			q[k] *= float32(by)
		}
	}
	return q
}

func (s *series) scaleFor(f *fitted, i, o int) float64 {
	if i >= 0 {
		return f.Scale[i]
	}
	m, _ := s.usual(o) // what it borrowed
	return math.Max(m, 1e-3)
}

// all writes every method's quantiles on the grid, given the spreads of the first two; forests that know too little follow the
// boosted trees.
func (v *view) all(spread [2]float64, dst *[methodCount][len26]float64) {
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
