package say_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/say"
)

// weighedOut reads a mass back as a kitchen does, g.
func weighedOut(t *testing.T, text string) float64 {
	t.Helper()
	sum := 0.0
	fields := strings.Fields(strings.NewReplacer("\u202foz", "oz", "\u202flb", "lb", "\u202fg", "g", "\u202f", "").Replace(text))
	for _, f := range fields {
		per := 1.0
		for unit, g := range map[string]float64{"oz": 28.349523125, "lb": 453.59237, "g": 1} {
			if n, ok := strings.CutSuffix(f, unit); ok && (unit != "g" || !strings.HasSuffix(f, "kg")) {
				f, per = n, g
			}
		}
		x, err := strconv.ParseFloat(f, 64)
		require.NoError(t, err, text)
		sum += x * per
	}
	return sum
}

// Nobody can weigh a number that the sheet rounds again: every step of dose, water and ice is printed exactly.
func TestWeighedAmountsArePrintedExactly(t *testing.T) {
	t.Parallel()
	for _, scale := range []float64{0, 0.1, 0.5, 1, 2, 5} {
		for _, ounces := range []bool{false, true} {
			site := models.Site{Timezone: "Europe/Berlin"}
			if ounces {
				site.Units = &models.Units{Mass: models.OuncesPounds, Temperature: "c", Volume: "l", Clock: "24h", Dates: "day_month"}
			}
			q, w := say.WriterFor(site), brew.Weighing{ScaleG: scale, Ounces: ounces}
			for _, g := range []float64{3.3, 18, 87.6, 199, 234.8, 455.5, 860, 1512.3, 2399, 4999, 5271.2, 26607.9} {
				for _, step := range append(w.DoseSteps(g), w.WaterSteps(g)...) {
					exact := brew.ToStep(g, step)
					require.InDelta(t, exact, weighedOut(t, q.ExactMass(exact)), 1e-4, "%s for %g g in steps of %g g", q.ExactMass(exact), exact, step)
				}
				bath := w.BathIce(g)
				require.InDelta(t, bath, weighedOut(t, q.ExactMass(bath)), 1e-4)
				require.GreaterOrEqual(t, bath, g)
			}
		}
	}
}
