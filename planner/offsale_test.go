package planner

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/say"
)

// shortDay is a day on which two kg of ice for drinks are missing from four on: "cheap" earns least with a gram of ice, "dear" most, and
// "still" is served without ice.
func shortDay() (models.PlanRequest, models.Plan) {
	noon := time.Date(2026, 7, 11, 12, 0, 0, 0, time.UTC)
	drink := func(code, beverage string, price, iceG float64) models.Drink {
		return models.Drink{Code: code, Name: code, Price: price, ServingIceG: iceG, Uses: []models.Use{{Beverage: beverage, G: 200}}}
	}
	r := models.PlanRequest{}
	r.Site.Timezone = "UTC"
	r.Site.Opening = []models.Opening{{Weekday: "sat", From: "08:00", To: "20:00"}}
	r.Site.DayParts = []models.DayPart{{Code: "all", From: "08:00", To: "20:00"}}
	r.Beverages = []models.Beverage{{Code: "flash", Name: "Flash"}, {Code: "chilled"}}
	r.Drinks = []models.Drink{drink("cheap", "flash", 300, 200), drink("dear", "flash", 600, 100), drink("still", "chilled", 400, 0)}
	demand := func(code string, n float64) models.DemandRange {
		return models.DemandRange{Date: "2026-07-11", DayPart: "all", Drink: code, Mean: n}
	}
	p := models.Plan{ComputedAt: noon, From: "2026-07-11", Days: 1,
		Demand:   []models.DemandRange{demand("cheap", 40), demand("dear", 40), demand("still", 10)},
		Warnings: []models.Warning{{Kind: models.WarnIceShort, Grade: models.GradeActToday, At: noon.Add(5 * time.Hour), Amount: 2, Unit: "kg", ChancePct: 50}},
		Left:     []models.LotLeft{{Beverage: "chilled", MadeAt: noon, UseBy: noon.Add(12 * time.Hour), G: 2000}}}
	return r, p
}

func TestTheDrinkThatEarnsLeastWithTheIceStopsFirst(t *testing.T) {
	t.Parallel()
	r, p := shortDay()
	q := say.For(r.Site)
	got := stopSelling(&r, &p, q)
	require.Len(t, got, 1)
	assert.Equal(t, "cheap", got[0].Drink)
	assert.Equal(t, models.ShortOfIce, got[0].Short)
	assert.Equal(t, "2026-07-11 17:00", got[0].From.UTC().Format("2006-01-02 15:04"), "40 drinks from noon to eight: 15 after five save 3 kg")
	assert.Equal(t, []string{"still"}, got[0].Instead, "it needs no ice and is left over")
	assert.Equal(t, "Stop selling cheap from Saturday 17:00: ice may run out at 17:00. Offer still instead.", got[0].Say)

	// Twice as much is missing: it stops earlier, and the best drink goes on.
	p.Warnings[0].Amount = 6
	got = stopSelling(&r, &p, q)
	require.Len(t, got, 1)
	assert.Equal(t, "2026-07-11 14:00", got[0].From.UTC().Format("2006-01-02 15:04"), "30 drinks after two save 6 kg")

	// More than all of it: the best drink stops once the ice is out.
	p.Warnings[0].Amount = 20
	got = stopSelling(&r, &p, q)
	require.Len(t, got, 2)
	assert.Equal(t, "cheap", got[0].Drink)
	assert.True(t, got[0].From.Equal(p.ComputedAt), "from now on")
	assert.Equal(t, "dear", got[1].Drink)
	assert.True(t, got[1].From.Equal(p.Warnings[0].At))
}

func TestNoDrinkStopsEarlyForOneThatEarnsNoMore(t *testing.T) {
	t.Parallel()
	r, p := shortDay()
	r.Drinks[0].Price = 1200 // as much as the dear one by gram of ice
	p.Warnings[0].Amount = 6
	for _, s := range stopSelling(&r, &p, say.For(r.Site)) {
		assert.True(t, s.From.Equal(p.Warnings[0].At), "%s is sold until the ice is out", s.Drink)
	}
	p.Warnings[0].Grade = models.GradeNote
	assert.Empty(t, stopSelling(&r, &p, say.For(r.Site)), "not for what is unlikely")
}

func TestABeverageThatRunsShort(t *testing.T) {
	t.Parallel()
	r, p := shortDay()
	p.Warnings[0].Kind, p.Warnings[0].Subject, p.Warnings[0].Amount = models.WarnBeverageShort, "flash", 2
	p.Left = nil
	got := stopSelling(&r, &p, say.For(r.Site))
	require.NotEmpty(t, got)
	assert.Equal(t, "flash", got[0].Short)
	assert.Equal(t, "cheap", got[0].Drink)
	assert.Empty(t, got[0].Instead, "nothing is left over to offer")
	assert.Equal(t, "Stop selling cheap from Saturday 17:00: Flash may run out at 17:00.", got[0].Say)
}

// A drink made to order needs no cold coffee, but beans and supplies.
func TestADrinkMadeToOrderIsOfferedWhileItsBeansLast(t *testing.T) {
	t.Parallel()
	r, p := shortDay()
	p.Warnings[0].Kind, p.Warnings[0].Subject = models.WarnBeverageShort, "flash"
	p.Left = nil
	r.Drinks = append(r.Drinks, models.Drink{Code: "filter", Price: 400, Doses: []models.Dose{{Coffee: "terrace", DoseG: 18}}, Extras: []models.Extra{{Name: "Cups", Amount: 1, Unit: "piece"}}})
	instead := func() []string {
		got := stopSelling(&r, &p, say.For(r.Site))
		require.NotEmpty(t, got)
		return got[0].Instead
	}
	assert.Equal(t, []string{"filter"}, instead())
	short := p.Warnings
	for _, w := range []models.Warning{{Kind: models.WarnBeansShort, Subject: "terrace"}, {Kind: models.WarnSuppliesShort, Subject: "cups"}} {
		w.At = p.ComputedAt
		p.Warnings = append(short[:1:1], w)
		assert.Empty(t, instead(), w.Kind)
	}
	p.Warnings = append(short[:1:1], models.Warning{Kind: models.WarnBeansShort, Subject: "lantern", At: p.ComputedAt})
	assert.Equal(t, []string{"filter"}, instead(), "the beans of others")
}
