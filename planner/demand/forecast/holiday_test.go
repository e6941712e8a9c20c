package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// steadyShop is a history of four series of about a hundred a day that vary by a tenth beside the weekday.
func steadyShop(seed uint64, past, ahead int) (rows []Past, coming []Ahead) {
	rng := rand.New(rand.NewPCG(seed, 9))
	for i := range 4 {
		for d := range past + ahead {
			date := models.Date("2024-01-15").AddDays(d)
			a := Ahead{SeriesKey: SeriesKey{Drink: fmt.Sprintf("s%02d", i)}, Date: date, Open: true}
			if y := math.Round(float64(80+20*i) * math.Exp(.2*math.Sin(float64(date.Weekday()))+.1*rng.NormFloat64())); d < past {
				rows = append(rows, Past{Ahead: a, Demand: &y})
			} else {
				coming = append(coming, a)
			}
		}
	}
	return rows, coming
}

// holidayShop is a history with count holidays, at 33 days' distance before the last, on which demand is by times the usual for
// series whose number is even and alsoBy times for the others. named gives each a name.
func holidayShop(seed uint64, count int, by, alsoBy float64, named bool) ([]Past, []Ahead) {
	past, ahead := steadyShop(seed, 480, 3)
	return onDays(past, func(d int) bool { return (d-450)%33 == 0 && (450-d)/33 < count && d <= 450 }, func(p *Past) {
		p.Holiday = true
		if named {
			p.HolidayName = fmt.Sprint("Saint ", p.Date.Weekday(), p.Date[5:7], " 2024")
		}
		if strings.HasSuffix(p.Drink, "0") || strings.HasSuffix(p.Drink, "2") {
			*p.Demand = math.Round(*p.Demand * by)
		} else {
			*p.Demand = math.Round(*p.Demand * alsoBy)
		}
	}), ahead
}

func TestAHolidayIsForecastAtItsOwnEffect(t *testing.T) {
	t.Parallel()
	onHoliday := func(rows []Ahead, name string) []Ahead {
		return allOpen(rows, func(a *Ahead) { a.Holiday, a.HolidayName = true, name })
	}
	for _, c := range []struct {
		known int
		named bool
		next  string
		near  float64
	}{
		{11, true, "an unknown saint", .04}, // what the site's holidays have in common
		{11, false, "", .04},
		{3, true, "an unknown saint", .12},
	} {
		ratio := 0.0
		const seeds = 2
		for seed := range uint64(seeds) {
			past, ahead := holidayShop(51+seed, c.known, .5, .5, c.named)
			st := fitState(t, past)
			usual, _, _ := liveTotals(t, st, ahead)
			mean, _, basis := liveTotals(t, st, onHoliday(ahead, c.next))
			ratio += mean / usual / seeds
			assert.Contains(t, codes(basis), HolidayEffect)
			assert.NotContains(t, codes(basis), UnknownHoliday)
		}
		t.Logf("%d known, named %t: %+.1f %%", c.known, c.named, 100*(ratio-1))
		assert.InDelta(t, .5, ratio, c.near)
	}
}

// One holiday is busy, the others are quiet: each name has its own effect, and an unknown one that of most.
func TestHolidaysOfOtherNamesHaveOtherEffects(t *testing.T) {
	t.Parallel()
	past, ahead := holidayShop(52, 10, .5, .5, true)
	busy := 0
	past = onDays(past, func(d int) bool { return (d-435)%90 == 0 && d >= 165 }, func(p *Past) {
		p.Holiday, p.HolidayName, *p.Demand = true, "Carnival", math.Round(*p.Demand*1.6)
		busy++
	})
	require.Equal(t, 4*4, busy)
	st := fitState(t, past)
	usual, _, _ := liveTotals(t, st, ahead)
	at := func(name string) float64 {
		mean, _, _ := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Holiday, a.HolidayName = true, name }))
		return mean / usual
	}
	assert.InDelta(t, 1.6, at("carnival 2025"), .25)
	assert.InDelta(t, .55, at("Harvest"), .12)
}

// Drinks and day parts differ in what a holiday does to them.
func TestHolidaysDifferBySeries(t *testing.T) {
	t.Parallel()
	past, ahead := holidayShop(52, 12, .3, 1.2, false)
	st := fitState(t, past)
	usual := st.Predict(ahead, scoredLevels).Rows
	for i, r := range st.Predict(allOpen(ahead, func(a *Ahead) { a.Holiday = true }), scoredLevels).Rows {
		want := 1.2
		if r.Drink == "s00" || r.Drink == "s02" {
			want = .3
		}
		assert.InDelta(t, want, r.Mean/usual[i].Mean, .15, r.Drink)
	}
}
