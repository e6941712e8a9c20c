package web

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// everyLearntValue is a value of each kind with a change.
func everyLearntValue() []models.LearntValue {
	v := func(kind, subject, unit string, setUp, value float64) models.LearntValue {
		out := models.LearntValue{ID: kind, Kind: kind, Subject: subject, SetUp: setUp, Value: value, Low: 0.9 * value, High: 1.1 * value, N: 30, PriorPct: 25, Unit: unit,
			Change: &models.LearntProposal{Value: value}}
		if subject != "" {
			out.ID += ":" + subject
		}
		return out
	}
	machine := v(models.LearntIceMachine, "Bar", "kg/day", 38, 31)
	machine.AirC = 27
	machine.Points = []models.LearntPoint{{At: 20, Value: 34}, {At: 27, Value: 31}, {At: 33, Value: 27}}
	cooling := v(models.LearntCooling, "flash", "min", 34, 42)
	cooling.FromC, cooling.ToC, cooling.Note = 60, 5, models.LearntSlowerCooling
	cooling.Points = []models.LearntPoint{{At: 3000, Value: 23}, {At: 6000, Value: 42}}
	hold := v(models.LearntHold, "flash", "h", 12, 8)
	hold.Note = models.LearntShorterHold
	return []models.LearntValue{machine, v(models.LearntBinLoss, "", "%/h", 0.5, 0.9), v(models.LearntIceServed, "", "%", 100, 112), v(models.LearntRetention, "flash", "g/g", 2.1, 2.6),
		v(models.LearntStrength, "flash", "%", 1.36, 1.28), cooling, hold}
}

func TestLearntValuesAreSaidInTheSitesUnits(t *testing.T) {
	t.Parallel()
	text := func(units *models.Units) string {
		s := models.Setup{Site: models.Site{Timezone: "UTC", Units: units}, Beverages: []models.Beverage{{Code: "flash", Name: "House flash"}}}
		l := models.Learnt{Values: everyLearntValue(), Changes: []models.LearntChange{{Of: "ice_machine:Bar", SetUp: 38, Value: 31, By: "Ada", At: time.Date(2026, 7, 11, 9, 0, 0, 0, time.UTC)}}}
		v := learntOf(&l, &s, voiceOf(s.Site))
		require.Len(t, v.Suggested, 7)
		require.Len(t, v.Used, 1)
		var all []string
		for _, r := range append(v.Suggested, v.Used...) {
			all = append(all, r.Say, r.Points, r.Sums, r.Caution, r.Button)
		}
		return strings.ReplaceAll(strings.Join(all, "\n"), "\u202f", " ")
	}
	metric := text(nil)
	for _, want := range []string{"Bar makes 31.0 kg of ice a day at 27 °C, not 38.0 kg.", "At 20 °C: 34.0 kg. At 33 °C: 27.0 kg.", "Use 31.0 kg", "The ice bin loses 0.9% an hour, not 0.5%.",
		"Drinks, jugs and staff take 112% of the recipes’ ice, not 100%.", "House flash: the grounds keep 2.60 times their weight, not 2.10.",
		"House flash comes out at 1.28%, not 1.36%.", "A full batch of House flash takes 42 min from 60 °C to 5 °C, not 34 min.", "3.0 kg of it: 23 min.", "Food safety: batches cool more slowly",
		"House flash keeps about 8 h, not 12 h.", "From 30 weighed batches. Range: 2.34 to 2.86.", "Bar: ice a day: 38.0 kg → 31.0 kg. Used by Ada, Saturday."} {
		assert.Contains(t, metric, want)
	}
	us := text(&models.Units{Mass: models.OuncesPounds, Temperature: models.Fahrenheit, Volume: models.FluidOuncesGallons})
	assert.Contains(t, us, "Bar makes 68.3 lb of ice a day at 81 °F, not 83.8 lb.")
	assert.NotContains(t, us, "kg")
	assert.NotContains(t, us, "°C")
	assert.Nil(t, learntOf(&models.Learnt{}, &models.Setup{}, voiceOf(models.Site{Timezone: "UTC"})), "nothing learnt, nothing shown")
}
