package forecast

import "math/rand/v2"

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

// fitted is all learners fitted to what was known at the end of one day.
type fitted struct {
	use        seasons
	samples    []*sample
	regression *regression
	boosting   *boosting
	forests    []*forest
	led        []*forest
}

// fit learns from the days of all series up to and with day o.
func fit(all []*series, o int, use seasons, trees int, seed uint64, warm *regression) *fitted {
	f := &fitted{use: use, samples: make([]*sample, len(all)), forests: make([]*forest, len(all)), led: make([]*forest, len(all))}
	for i, s := range all {
		f.samples[i] = take(s, i, o, use)
	}
	f.regression = fitRegression(f.samples, use, warm)
	f.boosting = fitBoosting(f.samples, f.regression)
	for i, m := range f.samples {
		chance := rand.New(rand.NewPCG(seed, uint64(i)))
		f.forests[i] = fitForest(m, nil, trees, chance)
		f.led[i] = fitForest(m, func(r int) float64 { return f.regression.mean(i, m.scale, m.row(r)) }, trees, chance)
	}
	return f
}

// view is what the methods say of one day: means of the first two, quantiles on the grid of the last two.
type view struct {
	regression, boosting float64
	quantiles            [methodCount][]float64 // the first two are filled once the spread is known
	known                bool
}

// look asks the methods about day t of series i as seen at the end of day o.
func (f *fitted) look(i, t, o int) view {
	var v view
	var x [features]float64
	m := f.samples[i]
	if m.rows() == 0 || !m.s.fill(t, o, f.use, x[:]) {
		return v
	}
	v.known = true
	v.regression = f.regression.mean(i, m.scale, x[:])
	v.boosting = f.boosting.mean(i, m.scale, x[:], v.regression)
	for k, fo := range []*forest{f.forests[i], f.led[i]} {
		q := make([]float64, len(grid))
		if fo.quantiles(x[:], v.regression, grid, q) {
			v.quantiles[byForest+k] = q
		}
	}
	return v
}

// spreadOut fills the quantiles of the first two methods, and of forests that know too little, from the spread.
func (v *view) spreadOut(spread [2]float64) {
	for k, mean := range []float64{v.regression, v.boosting} {
		q := make([]float64, len(grid))
		negativeBinomial(mean, spread[k], q)
		v.quantiles[k] = q
	}
	for k := byForest; k < methodCount; k++ {
		if v.quantiles[k] == nil {
			v.quantiles[k] = v.quantiles[byBoosting]
		}
	}
}
