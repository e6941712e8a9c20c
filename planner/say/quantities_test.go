package say_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/say"
)

func metric() say.Writer { return say.WriterFor(models.Site{Timezone: "Europe/Berlin"}) }

func customary() say.Writer {
	return say.WriterFor(models.Site{Timezone: "America/Chicago",
		Units: &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}})
}

func TestQuantitiesAreInTheUnitsOfTheSite(t *testing.T) {
	t.Parallel()
	m, c := metric(), customary()
	for _, x := range []struct{ got, want string }{
		{m.ExactMass(4670), "4\u202f670\u202fg"},
		{m.ExactMass(955.4), "955.4\u202fg"},
		{m.ExactMass(955.43), "955\u202fg"},
		{m.ExactMass(8.25), "8.2\u202fg"},
		{m.GlanceMass(5010), "5.0\u202fkg"},
		{m.GlanceMass(955), "955\u202fg"},
		{m.GlanceMass(999.7), "1.0\u202fkg"},
		{m.GlanceMass(133300), "133\u202fkg"},
		{m.MassChange(600), "+600\u202fg"},
		{m.MassChange(-600), "−600\u202fg"},
		{m.SaltMass(0.456), "0.5\u202fg"},
		{m.Volume(1.25), "1.2\u202fL"},
		{m.Volume(20), "20\u202fL"},
		{m.Volume(123.4), "123\u202fL"},
		{m.Temp(7.5), "7.5\u202f°C"},
		{m.Temp(40.04), "40\u202f°C"},
		{m.Temp(-3), "−3\u202f°C"},
		{m.WholeTemp(36.4), "36\u202f°C"},
		{m.TempDifference(2.5), "2.5\u202f°C"},
		{c.ExactMass(4670), "10\u202flb 4.7\u202foz"},
		{c.ExactMass(453.59237), "1\u202flb"},
		{c.ExactMass(453.5), "1\u202flb"},
		{c.ExactMass(18), "0.63\u202foz"},
		{c.ExactMass(-0.0001), "0.00\u202foz"},
		{c.GlanceMass(5010), "11.0\u202flb"},
		{c.GlanceMass(200), "7.1\u202foz"},
		{c.GlanceMass(133300), "294\u202flb"},
		{c.SaltMass(0.456), "0.5\u202fg"},
		{c.Volume(40), "10.6\u202fgal"},
		{c.Volume(0.25), "8\u202ffl\u202foz"},
		{c.Temp(5), "41\u202f°F"},
		{c.Temp(-18), "0\u202f°F"},
		{c.TempDifference(5), "9\u202f°F"},
	} {
		assert.Equal(t, x.want, x.got)
	}
}

func TestNumbersReadAtAGlance(t *testing.T) {
	t.Parallel()
	m := metric()
	for _, x := range []struct{ got, want string }{
		{say.Number(1234567.5, 1), "1\u202f234\u202f567.5"},
		{say.Number(-0.0001, 1), "0.0"},
		{m.Percent(1.405, 2), "1.41%"},
		{m.Chance(38), "1 in 3"},
		{m.Chance(0.4), "almost none"},
		{m.Chance(99.7), "almost certain"},
		{m.Chance(91), "9 in 10"},
		{m.Servings(3.5), "3.5"},
		{m.Servings(12.4), "12"},
		{m.Money(1240, "EUR"), "12.40\u202fEUR"},
		{m.Money(1240, "JPY"), "1\u202f240\u202fJPY"},
		{m.Money(12405, "KWD"), "12.405\u202fKWD"},
		{m.Listed([]string{"a", "b", "c"}), "a, b and c"},
		{m.LotCodes([]models.LotUse{{Lot: "h+12", G: 300}, {Lot: "h-13", G: 100}}), "h+12 and h-13"},
	} {
		assert.Equal(t, x.want, x.got)
	}
}

func TestFiguresAreToldFromWords(t *testing.T) {
	t.Parallel()
	for _, figure := range []string{"4\u202f670\u202fg", "−3\u202f°C", "(2", "+600\u202fg", "Sat\u00a007:30", "12:15"} {
		assert.True(t, say.IsFigure(figure), figure)
	}
	for _, word := range []string{"", "NaHCO3", "h-12", "left", "Sat\u00a0evening", "−"} {
		assert.False(t, say.IsFigure(word), word)
	}
}

func TestTypedQuantitiesAreReadInTheUnitsOfTheSite(t *testing.T) {
	t.Parallel()
	m, c := metric(), customary()
	for _, x := range []struct {
		w    say.Writer
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
		for _, w := range []say.Writer{metric(), customary()} {
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

// A formatted mass can be typed back, to within the digits it leaves out.
func TestFormattedMassesAreReadBack(t *testing.T) {
	t.Parallel()
	for _, w := range []say.Writer{metric(), customary()} {
		for g := 11.0; g < 90000; g *= 1.37 {
			got, err := w.ReadMass(w.ExactMass(g), "")
			require.NoError(t, err, w.ExactMass(g))
			assert.InDelta(t, g, got, 1.5, w.ExactMass(g))
		}
	}
}
