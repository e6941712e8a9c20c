package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

func TestFewSameWeekdaysWidenTheRange(t *testing.T) {
	t.Parallel()
	w := SameWeekday([]float64{500, 41, 52, 47, 60, 38, 44, 57, 49})
	assert.InDelta(t, 48.5, w.Mean, 1e-9, "the last eight")
	assert.Equal(t, []float64{8, 38, 60, 0}, []float64{float64(w.Days), w.Low, w.High, w.Outlier})
	f := FromForecast(models.Forecast{Mean: w.Mean, Levels: w.Levels, Quantiles: w.Quantiles})
	assert.InDelta(t, 48.5, f.P50(), 2)
	width := func(q []float64) float64 { return q[6] - q[0] }
	few := SameWeekday([]float64{57, 40})
	assert.Equal(t, 2, few.Days)
	assert.Greater(t, width(few.Quantiles), width(w.Quantiles))
	one := SameWeekday([]float64{48.5})
	assert.Equal(t, 1, one.Days)
	assert.Greater(t, width(one.Quantiles), width(few.Quantiles)-5)
	assert.Zero(t, SameWeekday(nil))
	none := SameWeekday([]float64{0, 0, 0, 0})
	assert.Zero(t, none.Mean)
	for _, x := range none.Quantiles {
		assert.Zero(t, x)
	}
}

func TestAnOutlierIsCappedAndNamed(t *testing.T) {
	t.Parallel()
	w := SameWeekday([]float64{41, 52, 1e6, 60})
	assert.InDelta(t, (41+52+60+480)/4.0, w.Mean, 1e-9)
	assert.Less(t, w.Quantiles[len(w.Quantiles)-1], 2000.0)
	assert.InDelta(t, 1e6, w.Outlier, 0)
	w = SameWeekday([]float64{0, 0, 3, 0})
	assert.InDelta(t, .75, w.Mean, 1e-9, "a few of a drink that seldom sells are not an outlier")
	assert.Zero(t, w.Outlier)
}

// Counts of nine weeks from one distribution: the range from the first eight covers the ninth as often as it should.
func TestSameWeekdayRangesCover(t *testing.T) {
	t.Parallel()
	s := NewScores(5, 2000)
	tb := Guess(40).Table()
	weeks := make([][]float64, 9)
	for w := range weeks {
		weeks[w] = make([]float64, s.Days())
		s.Draw(string(rune('a'+w)), weeks[w])
	}
	covered := 0
	for i := range s.Days() {
		var counts []float64
		for w := range 8 {
			counts = append(counts, math.Round(tb.At(weeks[w][i])))
		}
		q := SameWeekday(counts).Quantiles
		if x := math.Round(tb.At(weeks[8][i])); x >= q[1] && x <= q[5] {
			covered++
		}
	}
	assert.InDelta(t, 0.82, float64(covered)/float64(s.Days()), 0.04, "coverage of 10 to 90 %, both ends included")
}

func TestFewSameWeekdaysAreDrawnTowardsAGuess(t *testing.T) {
	t.Parallel()
	mean, levels, q, _ := SameWeekday([]float64{10, 14})
	assert.InDelta(t, 12, mean, 1e-12)
	guess := 12 + 0.04*12*12
	variance := (8 + 4*guess) / (2 - 1 + 4) * (1 + 1.0/2) // two days, and a guess worth four
	d := NegativeBinomial{Mean: 12, Size: 12 * 12 / (variance - 12)}
	for i, l := range levels {
		assert.Equal(t, d.Quantile(l), q[i], "level %g", l)
	}
	_, _, equal, _ := SameWeekday([]float64{300, 300, 300, 300, 300, 300, 300, 300})
	assert.Greater(t, equal[6]-equal[0], 2*1.6*math.Sqrt(300.0), "at least the variance of counting")
}

func TestAnOutlierNeedsTwoOthersToCompareWith(t *testing.T) {
	t.Parallel()
	mean, _, _, basis := SameWeekday([]float64{10, 1000})
	assert.InDelta(t, 505, mean, 1e-9)
	assert.NotContains(t, basis, "beyond")
	mean, _, _, basis = SameWeekday([]float64{10, 10, 80})
	assert.InDelta(t, 100/3.0, mean, 1e-9, "eight times the others is not beyond")
	assert.NotContains(t, basis, "beyond")
	mean, _, _, _ = SameWeekday([]float64{10, 10, 81})
	assert.InDelta(t, 100/3.0, mean, 1e-9, "capped at eight times")
}
