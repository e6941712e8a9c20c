package forecast

import "math"

// boosting is an ensemble of small trees over all series: each corrects the log mean of those before by a step along the
// gradient of the Poisson likelihood, on demand relative to the series' mean.
type boosting struct {
	Bins  *bins
	Start float64
	Trees []tree
}

// Settings of the ensemble: chosen once for small data, not by data set.
const (
	rounds    = 60
	stepSize  = 0.05
	maxLeaves = 8
	minLeaf   = 40
	leafRidge = 1
)

// boostColumns of the raw features, then the series' number and the regression's log relative mean.
var boostColumns = []int{fWeekday, fSin1, fCos1, fTemp, fRain, fHum, fHoliday, fBefore, fAfter, fTrend, fR7, fR1, fR4, fR8, fR56, fMonthDay}

func boostRow[F float32 | float64](f []F, index int, lead float64, dst []float64) {
	for k, c := range boostColumns {
		dst[k] = float64(f[c])
	}
	dst[len(boostColumns)] = float64(index)
	dst[len(boostColumns)+1] = math.Log(lead)
}

// fitBoosting fits the ensemble to the days of all samples, or to an even choice of at most about most of them: a site of many
// series has more days than small trees can tell apart.
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
			if mixed(uint64(m.index)<<32|uint64(m.day(r))) > share {
				continue
			}
			boostRow(m.row(r), m.index, m.lead[r], row[:])
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
	b.Bins = cut(x, width)
	b.Start = math.Log(sum / weights)
	eta, g, h := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range eta {
		eta[i] = b.Start
	}
	grow := newGrower(b.Bins.columns(x), minLeaf, maxLeaves, leafRidge)
	for range rounds {
		for i := range eta {
			mu := math.Exp(eta[i])
			g[i], h[i] = w[i]*(y[i]-mu), w[i]*mu
		}
		t := grow.tree(g, h, stepSize)
		if len(t) == 1 {
			break
		}
		grow.each(t, func(i int32, value float64) { eta[i] += value })
		b.Trees = append(b.Trees, t)
	}
	return b
}

// mean is the ensemble's mean of a feature row; lead is the regression's, which it returns where there was too little to learn.
func (b *boosting) mean(index int, scale float64, f []float64, lead float64) float64 {
	if len(b.Trees) == 0 || index < 0 {
		return lead
	}
	var row [features + 2]float64
	boostRow(f, index, lead/scale, row[:])
	var q [features + 2]uint8
	for k := range len(boostColumns) + 2 {
		q[k] = b.Bins.of(k, row[k])
	}
	eta := b.Start
	for _, t := range b.Trees {
		eta += float64(t.value(q[:]))
	}
	return scale * math.Exp(clamp(eta))
}
