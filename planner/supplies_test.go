package planner

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// supplied is the small request over a Saturday and a Sunday, its one drink with milk, a cup and syrup.
func supplied() models.PlanRequest {
	r := small()
	r.Days = 2
	r.Now = time.Date(2026, 7, 9, 8, 0, 0, 0, time.UTC) // Thursday 10:00
	r.Drinks[0].Extras = []models.Extra{{Name: "milk", Amount: 100, Unit: "ml"}, {Name: "cups", Amount: 1, Unit: "piece"}, {Name: "syrup", Amount: 15, Unit: "ml"}}
	r.Supplies = []models.Supply{
		{Name: "milk", Unit: "ml", Pack: 1000, CasePacks: 6, OrderBy: "14:00", LeadDays: 2, KeptIn: "fridge", Allergens: []string{"milk"}},
		{Name: "cups", Unit: "piece", Pack: 50},
	}
	return r
}

// suppliesOf plans the supplies of so many drinks a day and words the warnings.
func suppliesOf(r models.PlanRequest, drinks ...float64) ([]models.SupplyNeed, []warning) {
	st := newSetting(&r, Options{})
	var rows []models.DemandRange
	for i, n := range drinks {
		rows = append(rows, models.DemandRange{Date: r.From.AddDays(i), DayPart: "am", Drink: "dune-glass", Prepare: n / 4},
			models.DemandRange{Date: r.From.AddDays(i), DayPart: "pm", Drink: "dune-glass", Prepare: n * 3 / 4})
	}
	needs := st.planSupplies(rows)
	dr := &draft{brewPlan: &brewPlan{kitchen: &kitchen{setting: st}}}
	return needs, dr.warnSupplies(needs)
}

func TestSuppliesAreThoseOfThePlannedDrinksWithRemakesInWholePacks(t *testing.T) {
	t.Parallel()
	r := supplied()
	r.Site.RemakePct = 4
	needs, warned := suppliesOf(r, 40, 0)
	require.Len(t, needs, 3, "nothing is sold on Sunday")
	milk := needs[0]
	assert.Equal(t, models.Date("2026-07-11"), milk.Date)
	assert.InDelta(t, 4160, milk.Amount, 0, "40 × 100 mL and 4 % remakes")
	assert.Equal(t, 5, milk.Packs)
	assert.Equal(t, "fridge", milk.KeptIn)
	assert.Equal(t, []string{"milk"}, milk.Allergens)
	require.NotNil(t, milk.OrderBy)
	assert.Equal(t, "2026-07-09T14:00:00+02:00", milk.OrderBy.Format(time.RFC3339))
	assert.Nil(t, milk.StockAfter, "not counted")
	assert.InDelta(t, 42, needs[1].Amount, 0, "41.6 cups are 42")
	assert.Equal(t, 1, needs[1].Packs)
	assert.Equal(t, "syrup", needs[2].Name, "only a drink names it")
	assert.Equal(t, 0, needs[2].Packs)
	assert.Empty(t, warned, "nothing was counted")
}

func TestMilkOfDrinksIsListed(t *testing.T) {
	t.Parallel()
	r := supplied()
	r.Supplies, r.Drinks[0].Extras, r.Drinks[0].MilkG = nil, nil, 80
	needs, _ := suppliesOf(r, 10)
	require.Len(t, needs, 1)
	assert.Equal(t, "milk", needs[0].Name)
	assert.InDelta(t, 800, needs[0].Amount, 0)
	assert.Equal(t, []string{"milk"}, needs[0].Allergens)
}

func TestAShortSupplyIsOrderedInCasesByItsCutOff(t *testing.T) {
	t.Parallel()
	r := supplied()
	r.Supplies[0].Stock = new(5000.0)
	needs, warned := suppliesOf(r, 40, 60)
	assert.InDelta(t, 1000, *needs[0].StockAfter, 0)
	assert.InDelta(t, 0, *needs[3].StockAfter, 0)
	assert.InDelta(t, 5000, needs[3].Short, 0, "6 L on Sunday from 1 L")
	require.Len(t, warned, 1)
	w := warned[0]
	assert.Equal(t, "Order 1 case of milk by Friday 14:00. Sunday: 5 L short.", strings.ReplaceAll(w.Cause, "\u202f", " "))
	assert.Equal(t, models.GradeActToday, w.Grade, "28 h ahead")
	assert.Equal(t, "milk", w.Warning.Subject)
	assert.Equal(t, []string{"supplies.0.stock"}, w.Fields)

	r.Supplies[0].Stock = new(0.0)
	_, warned = suppliesOf(r, 40, 60)
	require.Len(t, warned, 1)
	assert.Equal(t, "Order 2 cases of milk by Thursday 14:00. Saturday to Sunday: 10 L short.", strings.ReplaceAll(warned[0].Cause, "\u202f", " "))

	r.Now = r.Now.Add(90 * time.Minute)
	_, warned = suppliesOf(r, 40, 0)
	assert.Equal(t, models.GradeActNow, warned[0].Grade, "2 h 30 min ahead")
	r.Now = r.Now.AddDate(0, 0, -3)
	_, warned = suppliesOf(r, 40, 0)
	assert.Equal(t, models.GradeNote, warned[0].Grade, "three days ahead")
}

func TestAfterTheCutOffASupplyIsBought(t *testing.T) {
	t.Parallel()
	r := supplied()
	r.Supplies[0].Stock = new(1500.0)
	r.Now = time.Date(2026, 7, 9, 12, 0, 0, 0, time.UTC) // Thursday 14:00
	_, warned := suppliesOf(r, 40, 60)
	require.Len(t, warned, 2, "Saturday's cut-off has passed, Sunday's has not")
	assert.Equal(t, "Buy 3 packs of milk before Saturday 08:00. Saturday: 2.5 L short, too late to order (by Thursday 14:00).", strings.ReplaceAll(warned[0].Cause, "\u202f", " "))
	assert.Equal(t, models.GradeActToday, warned[0].Grade)
	assert.Equal(t, "Order 1 case of milk by Friday 14:00. Sunday: 5.5 L short.", strings.ReplaceAll(warned[1].Cause, "\u202f", " "), "half a litre is left of the packs bought")
	r.Now = time.Date(2026, 7, 11, 4, 0, 0, 0, time.UTC)
	_, warned = suppliesOf(r, 40, 0)
	assert.Equal(t, models.GradeActNow, warned[0].Grade, "the shop opens in two hours")
}

func TestASupplyWithoutACutOffIsBoughtBeforeOpening(t *testing.T) {
	t.Parallel()
	r := supplied()
	r.Supplies[1].Stock = new(0.0)
	_, warned := suppliesOf(r, 40, 0)
	require.Len(t, warned, 1)
	assert.Equal(t, "Buy 1 pack of cups before Saturday 08:00. Saturday: 40 short.", strings.ReplaceAll(warned[0].Cause, "\u202f", " "))
	assert.Equal(t, models.GradeNote, warned[0].Grade)
}
