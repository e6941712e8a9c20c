package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

func TestFewSameWeekdaysWidenTheRange(t *testing.T) {
	t.Parallel()
	mean, levels, q, basis := SameWeekday([]float64{500, 41, 52, 47, 60, 38, 44, 57, 49})
	assert.InDelta(t, 48.5, mean, 1e-9, "the last eight")
	assert.Equal(t, "mean of the last 8 same weekdays, 38 to 60 sold", basis)
	f := FromForecast(models.Forecast{Mean: mean, Levels: levels, Quantiles: q})
	assert.InDelta(t, 48.5, f.P50(), 2)
	_, _, few, basis := SameWeekday([]float64{57, 40})
	assert.Contains(t, basis, "few")
	assert.Greater(t, few[6]-few[0], q[6]-q[0])
	_, _, one, basis := SameWeekday([]float64{48.5})
	assert.Contains(t, basis, "a guess")
	assert.Greater(t, one[6]-one[0], few[6]-few[0]-5)
	mean, levels, _, basis = SameWeekday(nil)
	assert.Zero(t, mean)
	assert.Nil(t, levels)
	assert.Contains(t, basis, "no counts")
	mean, _, q, _ = SameWeekday([]float64{0, 0, 0, 0})
	assert.Zero(t, mean)
	for _, x := range q {
		assert.Zero(t, x)
	}
}

func TestAnOutlierIsCappedAndNamed(t *testing.T) {
	t.Parallel()
	mean, _, q, basis := SameWeekday([]float64{41, 52, 1e6, 60})
	assert.InDelta(t, (41+52+60+480)/4.0, mean, 1e-9)
	assert.Less(t, q[len(q)-1], 2000.0)
	assert.Contains(t, basis, "a count of 1000000 lies many times beyond the others")
	mean, _, _, basis = SameWeekday([]float64{0, 0, 3, 0})
	assert.InDelta(t, .75, mean, 1e-9, "a few of a drink that seldom sells are no outlier")
	assert.NotContains(t, basis, "beyond")
}

// Counts of nine weeks from one distribution: the range from the first eight covers the ninth as often as it should.
func TestSameWeekdayRangesCover(t *testing.T) {
	t.Parallel()
	s := NewScores(5, 2000)
	tb := Guess(40, "").Table()
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
		_, _, q, _ := SameWeekday(counts)
		if x := math.Round(tb.At(weeks[8][i])); x >= q[1] && x <= q[5] {
			covered++
		}
	}
	assert.InDelta(t, 0.82, float64(covered)/float64(s.Days()), 0.04, "coverage of 10 to 90 %%, both ends included")
}
