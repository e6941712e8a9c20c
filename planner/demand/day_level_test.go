package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// The reference is the posterior mean of a gamma level after a Poisson count, by quadrature.
func TestDayLevelIsTheGammaPosterior(t *testing.T) {
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
	r := FromOverride(models.Demand{Expected: 100, P10: new(70.0), P90: new(140.0)}, nil)
	width := r.P90() - r.P10()
	busy := NewDayLevel(0.2).Observe(200, 280, 1).Rest(r, 1, DefaultCorrelation(), Seen{})
	assert.Greater(t, busy.Mean(), 1.25*r.Mean())
	assert.Less(t, (busy.P90()-busy.P10())/busy.Mean(), width/r.Mean(), "narrower, relative to the mean")
	assert.Equal(t, OverrideRange, busy.Basis())
	assert.Zero(t, NewDayLevel(0.2).Rest(Range{}, 1, DefaultCorrelation(), Seen{}).P90())
	same := NewDayLevel(0.2)
	assert.Equal(t, same, same.Observe(-1, 3, 1), "invalid arguments are ignored")
}

func TestTheRestOfADayHasItsOwnExcessVarianceAndThatOfTheLevel(t *testing.T) {
	t.Parallel()
	l := NewDayLevel(0.2).Observe(100, 150, 0.5) // shape 25 + 75, rate 25 + 50
	assert.InDelta(t, 100.0/75, l.Mean(), 1e-12)
	r := Guess(90)
	excess := (r.Variance() - 90) / (90 * 90)
	want := NegativeBinomial{Mean: 120, Size: 1 / (0.5*excess + 1.0/100)}
	got := l.Rest(r, 1, Correlation{Day: 0.5}, Seen{})
	assert.InDelta(t, 120, got.Mean(), 1e-9)
	for _, level := range []float64{0.05, 0.5, 0.95} {
		assert.Equal(t, want.Quantile(level), got.Quantile(level), "level %g", level)
	}
	assert.Equal(t, r.Basis(), got.Basis(), "the range comes from where it came before")
	certain := FromOverride(models.Demand{Expected: 40, P10: new(40.0), P90: new(40.0)}, nil)
	assert.Equal(t, NegativeBinomial{Mean: 40, Size: 25}.Quantile(0.9), NewDayLevel(0.2).Rest(certain, 1, DefaultCorrelation(), Seen{}).P90(), "a row without excess variance has the level's")
}

func TestALevelHasALeastSpread(t *testing.T) {
	t.Parallel()
	assert.Equal(t, DayLevel{Shape: 1e6, Rate: 1e6}, NewDayLevel(0))
	assert.Equal(t, NewDayLevel(0), NewDayLevel(math.NaN()))
	l := NewDayLevel(0.2)
	for _, changed := range []DayLevel{l.Observe(math.NaN(), 1, 1), l.Observe(1, -1, 1), l.Observe(1, 1, 0)} {
		assert.Equal(t, l, changed)
	}
	assert.Equal(t, l.Observe(0, 0, 1), l, "no demand expected or seen")
}

// The rest of a row of which half has been seen, against sampling by importance: the row's level is gamma with mean 1 and the row's own
// excess variance, and each half is Poisson.
func TestARowThatSellsWellSoFarSellsWellOn(t *testing.T) {
	t.Parallel()
	r := NegativeBinomial{Mean: 80, Size: 1 / 0.09}.Range()
	day := DayLevel{Shape: 1e6, Rate: 1e6}
	got := day.Rest(r, 0.5, Correlation{Day: 0}, Seen{Expected: 40, Count: 60})
	mass, mean, square := 0.0, 0.0, 0.0
	for x := 0.001; x < 4; x += 0.001 {
		p := math.Exp((1/0.09-1)*math.Log(x) - x/0.09 + 60*math.Log(x) - 40*x)
		rest := 40 * x
		mass, mean, square = mass+p, mean+p*rest, square+p*(rest+rest*rest)
	}
	mean, square = mean/mass, square/mass
	assert.InEpsilon(t, mean, got.Mean(), 0.01)
	assert.InEpsilon(t, square-mean*mean, got.Table().Variance(), 0.05)
	assert.Greater(t, got.Mean(), 50.0)
	assert.InDelta(t, 40, day.Rest(r, 0.5, Correlation{Day: 1}, Seen{Expected: 40, Count: 60}).Mean(), 1e-6, "all rows go together: only the day's level counts")
	assert.Equal(t, day.Rest(r, 0.5, Correlation{}, Seen{}), day.Rest(r, 0.5, Correlation{}, Seen{Expected: math.NaN(), Count: 60}), "invalid figures are ignored")
}
