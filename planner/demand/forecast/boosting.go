package forecast

import "math"

// boosting is an ensemble of small trees over all series: each corrects the log mean of those before by a step along the
// gradient of the Poisson likelihood, on demand relative to the series' mean.
type boosting struct {
	bins  *bins
	start float64
	trees []tree
}

// Settings of the ensemble: chosen once for small data, not by data set.
const (
	rounds    = 60
	stepSize  = 0.05
	maxLeaves = 8
	minLeaf   = 40
	leafRidge = 5
)

// boostColumns of the raw features, then the series' number and the regression's log relative mean.
var boostColumns = []int{fWeekday, fSin1, fCos1, fTemp, fRain, fHum, fHoliday, fBefore, fAfter, fTrend, fR7, fR1, fR4, fR8, fR56, fMonthDay}

func boostRow(f []float64, index int, logMean float64, dst []float64) {
	for k, c := range boostColumns {
		dst[k] = f[c]
	}
	dst[len(boostColumns)] = float64(index)
	dst[len(boostColumns)+1] = logMean
}

// fitBoosting fits the ensemble to all samples; lead gives the regression's mean of each row.
func fitBoosting(samples []*sample, lead *regression) *boosting {
	width := len(boostColumns) + 2
	n := 0
	for _, m := range samples {
		n += m.rows()
	}
	x, y, w := make([]float64, n*width), make([]float64, n), make([]float64, n)
	k, sum, weights := 0, 0.0, 0.0
	for i, m := range samples {
		for r := range m.rows() {
			f := m.row(r)
			boostRow(f, m.index, math.Log(lead.mean(i, m.scale, f)/m.scale), x[k*width:])
			y[k], w[k] = m.ratio(r), m.weight[r]*precision(m.scale)
			sum, weights = sum+w[k]*y[k], weights+w[k]
			k++
		}
	}
	b := &boosting{}
	if n < 2*minLeaf || sum <= 0 {
		return b
	}
	mean := sum / weights
	norm := float64(n) / weights
	for i := range w {
		w[i] *= norm
	}
	b.bins = cut(x, width)
	columns := b.bins.columns(x)
	b.start = math.Log(mean)
	eta, g, h := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range eta {
		eta[i] = b.start
	}
	grow := newGrower(columns, minLeaf, maxLeaves, leafRidge)
	for range rounds {
		for i := range eta {
			mu := math.Exp(eta[i])
			g[i], h[i] = w[i]*(y[i]-mu), w[i]*mu
		}
		t := grow.tree(g, h)
		if len(t.nodes) == 1 {
			break
		}
		t.scaleLeaves(stepSize)
		grow.each(func(i int, value float64) { eta[i] += stepSize * value })
		b.trees = append(b.trees, t)
	}
	return b
}

// mean is the ensemble's mean of a feature row; lead is the regression's, which it returns where there was too little to learn.
func (b *boosting) mean(index int, scale float64, f []float64, lead float64) float64 {
	if len(b.trees) == 0 {
		return lead
	}
	width := len(boostColumns) + 2
	var row [features + 2]float64
	boostRow(f, index, math.Log(lead/scale), row[:])
	var q [features + 2]uint8
	for k := range width {
		q[k] = b.bins.of(k, row[k])
	}
	eta := b.start
	for i := range b.trees {
		eta += b.trees[i].value(q[:])
	}
	return scale * math.Exp(clamp(eta))
}
