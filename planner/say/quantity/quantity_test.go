package quantity_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/say/quantity"
)

func metric() quantity.Writer { return quantity.For(models.Site{Timezone: "Europe/Berlin"}) }

func customary() quantity.Writer {
	return quantity.For(models.Site{Timezone: "America/Chicago",
		Units: &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}})
}

func TestQuantitiesAreWrittenInTheUnitsOfTheSite(t *testing.T) {
	t.Parallel()
	m, c := metric(), customary()
	for _, x := range []struct{ got, want string }{
		{m.Grams(4670), "4\u202f670\u202fg"},
		{m.Grams(8.25), "8.2\u202fg"},
		{m.Mass(5010), "5.0\u202fkg"},
		{m.Mass(874), "870\u202fg"},
		{m.Litres(1.25), "1.2\u202fL"},
		{m.Temp(7.5), "7.5\u202f°C"},
		{m.Temp(-3), "−3\u202f°C"},
		{c.Grams(4670), "10\u202flb 4.7\u202foz"},
		{c.Grams(453.59237), "1\u202flb"},
		{c.Grams(453.5), "1\u202flb"},
		{c.Grams(18), "0.63\u202foz"},
		{c.Grams(-0.0001), "0.00\u202foz"},
		{c.Mass(5010), "11.0\u202flb"},
		{c.Mass(200), "7.1\u202foz"},
		{c.Mass(133300), "294\u202flb"},
		{c.Litres(40), "10.6\u202fgal"},
		{c.Litres(0.25), "8\u202ffl\u202foz"},
		{c.Temp(5), "41\u202f°F"},
		{c.Temp(-18), "0\u202f°F"},
		{c.Degrees(5), "9\u202f°F"},
	} {
		assert.Equal(t, x.want, x.got)
	}
}

func TestTimesAreWrittenByTheClockAndOrderOfTheSite(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 19, 45, 0, 0, time.UTC)
	m, c := metric(), customary()
	assert.Equal(t, "21:45", m.Clock(at))
	assert.Equal(t, "2:45\u202fpm", c.Clock(at))
	assert.Equal(t, "Saturday 11 July", m.Day(at))
	assert.Equal(t, "Saturday, July 11", c.Day(at))
	assert.Equal(t, "Saturday, July 11, 2026", c.DayYear(at))
	assert.Equal(t, "11 Jul", m.ShortDay(at))
	assert.Equal(t, "Jul 11", c.ShortDay(at))
	assert.Equal(t, "Saturday 2:45\u202fpm", c.At(at))
	assert.Equal(t, "Saturday 11 July 21:45", m.Near(at, at.AddDate(0, 0, -9)))
	assert.Equal(t, "Saturday 21:45", m.Near(at, at.AddDate(0, 0, -2)))
	// Six days away a weekday could be taken for the one a week before or after.
	for _, c := range []struct {
		now  time.Time
		want string
	}{{at.AddDate(0, 0, -6).Add(time.Minute), "Saturday 21:45"}, {at.AddDate(0, 0, -6), "Saturday 11 July 21:45"}, {at.AddDate(0, 0, -7), "Saturday 11 July 21:45"},
		{at.AddDate(0, 0, 6).Add(-time.Minute), "Saturday 21:45"}, {at.AddDate(0, 0, 6), "Saturday 11 July 21:45"}} {
		assert.Equal(t, c.want, m.Near(at, c.now), "seen from %s", c.now)
	}
	assert.Equal(t, "2\u202fpm", c.Hour(at.Truncate(time.Hour)))
	assert.Equal(t, "21", m.Hour(at.Truncate(time.Hour)))
	assert.Equal(t, "21:00", m.FullHour(at.Truncate(time.Hour)))
	assert.Equal(t, "12:00\u202fam", c.Clock(time.Date(2026, 7, 11, 5, 0, 0, 0, time.UTC)))
	assert.Equal(t, []string{"7:00\u202fam", "12:00\u202fpm", "12:00\u202fam", "noon"}, []string{c.SetClock("07:00"), c.SetClock("12:00"), c.SetClock("24:00"), c.SetClock("noon")})
	assert.Equal(t, "24:00", m.SetClock("24:00"))
	assert.Equal(t, "3 days", m.Span(72*time.Hour))
	assert.Equal(t, "3\u202fh 20\u202fmin", m.Span(200*time.Minute))
}

func TestWhatIsTypedIsReadInTheUnitsOfTheSite(t *testing.T) {
	t.Parallel()
	m, c := metric(), customary()
	for _, x := range []struct {
		w    quantity.Writer
		s    string
		want float64
	}{
		{m, "4.5", 4500}, {m, "4,5", 4500}, {m, " 4 500 g", 4500}, {m, "4\u202f500\u202fg", 4500}, {m, "0,500", 500}, {m, "1,250.5 g", 1250.5}, {m, ".5kg", 500},
		{m, "9 lb 14.7 oz", 9*453.59237 + 14.7*28.349523125}, {c, "10", 4535.9237}, {c, "10lb 4oz", 4649.3218}, {c, "4.5 kg", 4500}, {m, "12 LB", 12 * 453.59237},
	} {
		got, err := x.w.ReadMass(x.s, "")
		require.NoError(t, err, x.s)
		assert.InDelta(t, x.want, got, 1e-3, x.s)
	}
	for _, s := range []string{"", "x", "4,500", "-3", "4.5.5", "1e9", "5 l", "4 kg 3", "3 oz 2 lb", "4,5,6", "1.000,5", "NaN", "Inf", "99999999999"} {
		_, err := m.ReadMass(s, "")
		assert.Equal(t, models.CodeInvalid, models.CodeOf(err), "%q", s)
	}
	l, err := c.ReadVolume("10.5")
	require.NoError(t, err)
	assert.InDelta(t, 39.747, l, 0.001)
	l, err = m.ReadVolume("12 fl oz")
	require.NoError(t, err)
	assert.InDelta(t, 0.3549, l, 0.0001)
	for s, want := range map[string]float64{"5": 5, "5 °C": 5, "41 °F": 5, "41f": 5, "−3,5": -3.5, "-18": -18} {
		got, err := m.ReadTemp(s)
		require.NoError(t, err, s)
		assert.InDelta(t, want, got, 1e-9, s)
	}
	f, err := c.ReadTemp("32")
	require.NoError(t, err)
	assert.InDelta(t, 0, f, 1e-9)
	_, err = m.ReadTemp("warm")
	assert.Error(t, err)
}

func FuzzReadMass(f *testing.F) {
	for _, s := range []string{"4.5", "4,500", "9 lb 14 oz", "", "1e9", "4 \u202f kg", "5 fl oz", "°", "0x10"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, w := range []quantity.Writer{metric(), customary()} {
			g, err := w.ReadMass(s, "")
			if err == nil && (math.IsNaN(g) || g < 0 || g > 1e7) {
				t.Fatalf("%q read as %g g", s, g)
			}
			if c, err := w.ReadTemp(s); err == nil && (math.IsNaN(c) || math.IsInf(c, 0)) {
				t.Fatalf("%q read as %g °C", s, c)
			}
		}
	})
}

// What is written can be typed back: within what the written digits leave out.
func TestWrittenMassesAreReadBack(t *testing.T) {
	t.Parallel()
	for _, w := range []quantity.Writer{metric(), customary()} {
		for g := 11.0; g < 90000; g *= 1.37 {
			got, err := w.ReadMass(w.Grams(g), "")
			require.NoError(t, err, w.Grams(g))
			assert.InDelta(t, g, got, 1.5, w.Grams(g))
		}
	}
}
