package forecast

import "math"

// boosting is gradient boosting with the Poisson log-likelihood over all series, on demand relative to the series' mean: Start
// plus the sum of the trees is the log of the relative mean.
type boosting struct {
	Bins  *bins
	Start float64
	Trees []tree
}

// Hyperparameters, chosen once for small data sets.
const (
	rounds    = 60
	stepSize  = 0.05
	maxLeaves = 8
	minLeaf   = 40
	leafRidge = 1
)

// boostColumns are the features used, followed in each row by the series' index and the log of the regression's relative mean.
var boostColumns = []int{fWeekday, fSin1, fCos1, fTemp, fRain, fHum, fHoliday, fHolidayBefore, fHolidayAfter, fTrend, fR7, fR1, fR4, fR8, fR56, fMonthDay}

func boostRow[F float32 | float64](f []F, index int, regMean float64, dst []float64) {
	for k, c := range boostColumns {
		dst[k] = float64(f[c])
	}
	dst[len(boostColumns)] = float64(index)
	dst[len(boostColumns)+1] = math.Log(regMean)
}

// fitBoosting fits the ensemble to all samples. Of more than most rows it uses a uniform subsample of about that many: a large
// site has more data than small trees can use.
func fitBoosting(samples []*sample, most int) *boosting {
	width := len(boostColumns) + 2
	n := 0
	for _, m := range samples {
		n += m.rows()
	}
	b := &boosting{}
	share := uint64(math.MaxUint64)
	if n > most {
		share = uint64(float64(most) / float64(n) * math.MaxUint64)
	}
	n = min(n, most+most/8)
	x, y, w := make([]float64, 0, n*width), make([]float64, 0, n), make([]float64, 0, n)
	sum, weights := 0.0, 0.0
	var row [features + 2]float64
	for _, m := range samples {
		for r := range m.rows() {
			if splitmix64(uint64(m.index)<<32|uint64(m.day(r))) > share {
				continue
			}
			boostRow(m.row(r), m.index, m.regMean[r], row[:])
			x, y, w = append(x, row[:width]...), append(y, m.ratio[r]), append(w, m.weight[r])
			sum, weights = sum+m.weight[r]*m.ratio[r], weights+m.weight[r]
		}
	}
	n = len(y)
	if n < 2*minLeaf || sum <= 0 {
		return b
	}
	for i := range w {
		w[i] *= float64(n) / weights
	}
	b.Bins = newBins(x, width)
	b.Start = math.Log(sum / weights)
	eta, g, h := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range eta {
		eta[i] = b.Start
	}
	grow := newBoostGrower(b.Bins.columns(x), minLeaf, maxLeaves, leafRidge)
	for range rounds {
		for i := range eta {
			mu := math.Exp(eta[i])
			g[i], h[i] = w[i]*(y[i]-mu), w[i]*mu
		}
		t := grow.tree(g, h, stepSize)
		if len(t) == 1 {
			break
		}
		grow.eachRow(t, func(i int32, value float64) { eta[i] += value })
		b.Trees = append(b.Trees, t)
	}
	return b
}

// mean predicts a feature row. It returns regMean, the regression's mean, where there was too little data or the series is new.
func (b *boosting) mean(index int, scale float64, f []float64, regMean float64) float64 {
	if len(b.Trees) == 0 || index < 0 {
		return regMean
	}
	var row [features + 2]float64
	boostRow(f, index, regMean/scale, row[:])
	var q [features + 2]uint8
	for k := range len(boostColumns) + 2 {
		q[k] = b.Bins.index(k, row[k])
	}
	eta := b.Start
	for _, t := range b.Trees {
		eta += float64(t.value(q[:]))
	}
	return scale * math.Exp(clampLogMean(eta))
}
