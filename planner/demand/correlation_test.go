package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestLoadingIsTheRootOfTheSharedOverdispersion(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ day, overdispersion, want float64 }{
		{0.5, 0.32, 0.4}, {1, 0.81, 0.9}, {0, 0.5, 0}, {0.5, 0, 0}, {2, 0.25, 0.5}, {0.25, 3, 0.5}, {-1, 0.5, 0}, {math.NaN(), 0.5, 0},
	} {
		assert.InDelta(t, c.want, Correlation{Day: c.day}.Loading(c.overdispersion), 1e-12, "%+v", c)
	}
}

func TestServingsFollowTheDayAndTheRowByTheLoading(t *testing.T) {
	t.Parallel()
	table := Guess(60).Table()
	l := DefaultCorrelation().Loading(table.Overdispersion())
	day, own, got := []float64{2, 0, -1}, []float64{0, 2, 1}, make([]float64, 3)
	DefaultCorrelation().Servings(table, day, own, got)
	for i := range got {
		assert.InDelta(t, table.At(l*day[i]+math.Sqrt(1-l*l)*own[i]), got[i], 1e-12)
	}
}
