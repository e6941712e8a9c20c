package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// The posterior of a gamma level after Poisson counts, by quadrature over the level.
func TestDayLevelIsThePosterior(t *testing.T) {
	t.Parallel()
	const expected, count, sd = 80.0, 110.0, 0.2
	l := NewDayLevel(sd).Observe(expected, count, 1)
	var mass, mean float64
	for x := 0.0005; x < 6; x += 0.001 {
		k := 1 / (sd * sd)
		p := math.Exp((k-1)*math.Log(x) - k*x + count*math.Log(x*expected) - x*expected - (count*math.Log(expected) - expected))
		mass += p
		mean += p * x
	}
	assert.InEpsilon(t, mean/mass, l.Mean(), 1e-6)
	assert.Greater(t, l.Mean(), 1.25)
	assert.Less(t, l.Mean(), 110.0/80)
}

func TestCountsMoveAndNarrowTheRestOfTheDay(t *testing.T) {
	t.Parallel()
	r := FromWord(models.Demand{Expected: 100, P10: at(70), P90: at(140)}, nil)
	before := r.P90() - r.P10()
	hot := NewDayLevel(0.2).Observe(200, 280, 1).Rest(r, Assumed())
	assert.Greater(t, hot.Mean(), 1.25*r.Mean())
	assert.Less(t, (hot.P90()-hot.P10())/hot.Mean(), before/r.Mean(), "relative to its mean it has narrowed")
	assert.Contains(t, hot.Basis(), "counts")
	assert.Zero(t, NewDayLevel(0.2).Rest(None(""), Assumed()).P90())
	same := NewDayLevel(0.2)
	assert.Equal(t, same, same.Observe(-1, 3, 1), "nonsense teaches nothing")
}

func TestSameWeekdaysWidenWhenFew(t *testing.T) {
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

// Of rows drawn with a common level, the ranges from eight rows hold the ninth about as often as they say.
func TestOneCountFarOutIsTakenAsLessAndSaid(t *testing.T) {
	t.Parallel()
	mean, _, q, basis := SameWeekday([]float64{41, 52, 1e6, 60})
	assert.InDelta(t, (41+52+60+480)/4.0, mean, 1e-9)
	assert.Less(t, q[len(q)-1], 2000.0)
	assert.Contains(t, basis, "a count of 1000000 lies many times beyond the others")
	mean, _, _, basis = SameWeekday([]float64{0, 0, 3, 0})
	assert.InDelta(t, .75, mean, 1e-9, "a few of a thing that seldom sells are none such")
	assert.NotContains(t, basis, "beyond")
}

func TestSameWeekdayRangesHold(t *testing.T) {
	t.Parallel()
	s := NewScores(5, 2000)
	tb := Guess(40, "").Table()
	weeks := make([][]float64, 9)
	for w := range weeks {
		weeks[w] = make([]float64, s.Days())
		s.Draw(string(rune('a'+w)), weeks[w])
	}
	inside := 0
	for i := range s.Days() {
		var seen []float64
		for w := range 8 {
			seen = append(seen, math.Round(tb.At(weeks[w][i])))
		}
		_, _, q, _ := SameWeekday(seen)
		if x := math.Round(tb.At(weeks[8][i])); x >= q[1] && x <= q[5] {
			inside++
		}
	}
	share := float64(inside) / float64(s.Days())
	assert.InDelta(t, 0.82, share, 0.04, "10 to 90 %% with both ends in")
}
