package sheet

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// leftToTheDay is a day with an afternoon batch of House flash that is full, half or none.
func leftToTheDay(t *testing.T) (models.Setup, models.PrepSheet, models.Task) {
	t.Helper()
	at := time.Date(2026, 7, 11, 15, 0, 0, 0, time.UTC)
	setup := models.Setup{Site: models.Site{Code: "quay", Timezone: "UTC", JugG: 1500, Opening: []models.Opening{{Weekday: "sat", From: "07:00", To: "19:00"}}},
		Beverages: []models.Beverage{{Code: "house", Name: "House flash", Method: models.Flash, Coffee: "c"}},
		Brewers:   []models.Brewer{{Code: "Left", Beverages: []string{"house"}, MaxBeverageG: 6000, BusyMin: 15}}}
	sized := func(share float64) *models.BatchTask {
		return &models.BatchTask{ID: "2026-07-11.Left.house.1", Date: "2026-07-11", Brewer: "Left", Beverage: "house", Start: at.Add(30 * time.Minute), IceAt: at.Add(45 * time.Minute),
			Ready: at.Add(time.Hour), UseBy: at.Add(9 * time.Hour), DoseG: 460 * share, BrewWaterG: 5180 * share, IceG: 1720 * share, BeverageG: 6000 * share,
			Lots: []models.LotUse{{Lot: "H-17", G: 460 * share}}, State: models.Due, Choice: "2026-07-11.look.house", LookAt: at}
	}
	half, none := 2.5*1500, 4.5*1500
	plan := models.Plan{From: "2026-07-11", Days: 1, ComputedAt: at.Add(-20 * time.Hour), Batches: []models.BatchTask{*sized(1)},
		Choices: []models.Choice{{ID: "2026-07-11.look.house", Date: "2026-07-11", LookAt: at, Beverage: "house", Brewer: "Left",
			Options: []models.ChoiceOption{{BelowG: &half, Batch: sized(1)}, {BelowG: &none, Batch: sized(0.5)}, {}}}}}
	req := models.PlanRequest{Setup: setup, From: "2026-07-11", Days: 1, Now: plan.ComputedAt}
	sheets := PrepSheets(req, plan, nil, plan.ComputedAt)
	require.Len(t, sheets, 1)
	i := slices.IndexFunc(sheets[0].Tasks, func(t models.Task) bool { return t.Kind == models.TaskLook })
	require.GreaterOrEqual(t, i, 0)
	return setup, sheets[0], sheets[0].Tasks[i]
}

func TestALookAsksInJugs(t *testing.T) {
	t.Parallel()
	setup, s, look := leftToTheDay(t)
	assert.Equal(t, "House flash left, counting what’s in the bath? 2 jugs or fewer: brew full (460 g coffee, 5 180 g water, 1 720 g ice). "+
		"3 to 4 jugs: brew half (230 g coffee, 2 590 g water, 860 g ice). 5 jugs or more: don’t brew. No answer: brew full.", plain(look.Say))
	assert.True(t, look.Mark, "its answer is a mark")
	brew := brewOf(t, &s)
	assert.True(t, strings.HasSuffix(brew.Say, "Size by the 15:00 look."), brew.Say)
	assert.Equal(t, brew.ID, look.Choice.Options[0].Batch.ID, "its batches are those of the sheet")

	setup.Site.JugG = 0
	w := newWording(&setup)
	assert.Equal(t, "Under 3.8 kg|3.8 kg to 6.8 kg|6.8 kg or more", plain(w.leftRange(look.Choice, 0)+"|"+w.leftRange(look.Choice, 1)+"|"+w.leftRange(look.Choice, 2)))
}

func TestAnAnswerDecidesTheBatch(t *testing.T) {
	t.Parallel()
	setup, s, look := leftToTheDay(t)
	at := look.At.Add(3 * time.Minute)
	answer := func(s models.PrepSheet, g float64) Decision { return Decide(s, setup, look, &g, at) }

	d := answer(s, 5000)
	require.Equal(t, brewOf(t, &s).ID, d.Brew)
	assert.False(t, d.Skip)
	b := brewOf(t, &d.Sheet)
	assert.InDelta(t, 230, b.Batch.DoseG, 1e-9)
	assert.InDelta(t, 230, b.Lots[0].G, 1e-9)
	assert.Contains(t, plain(b.Say), "230 g coffee (H-17), 2 590 g water")
	assert.NotContains(t, b.Say, "look", "it is decided")
	assert.Equal(t, []string{"3 jugs of House flash left: brew half (230 g coffee, 2 590 g water, 860 g ice)."}, []string{plain(d.Sheet.Changes[0])})
	for _, x := range d.Sheet.Tasks {
		if x.Batch != nil {
			assert.InDelta(t, 3000, x.Batch.BeverageG, 1e-9, x.Kind)
		}
	}
	kept := Kept([]models.BatchTask{*look.Choice.Options[0].Batch}, []models.PrepSheet{d.Sheet})
	assert.InDelta(t, 3000, kept[0].BeverageG, 1e-9, "a replan stays with it")

	d = answer(d.Sheet, 900)
	assert.InDelta(t, 460, brewOf(t, &d.Sheet).Batch.DoseG, 1e-9, "a correction")

	d = answer(d.Sheet, 7000)
	assert.True(t, d.Skip)
	assert.Equal(t, "5 jugs left at 15:03", d.Why)

	back := Decide(d.Sheet, setup, look, nil, at)
	assert.False(t, back.Skip)
	assert.Contains(t, brewOf(t, &back.Sheet).Say, "Size by the 15:00 look.", "without an answer it waits again")

	begun := s
	begun.Tasks = slices.Clone(s.Tasks)
	for i := range begun.Tasks {
		if begun.Tasks[i].Kind == models.TaskBrew {
			begun.Tasks[i].State = models.Started
		}
	}
	assert.Empty(t, answer(begun, 7000).Brew, "too late: it is being brewed")

	delay := Delayed(s, setup, models.Delay{Minutes: 20, At: at})
	d = answer(delay, 5000)
	assert.Equal(t, look.Choice.Options[0].Batch.Start.Add(20*time.Minute), brewOf(t, &d.Sheet).Batch.Start, "a delay stays")
}

func brewOf(t *testing.T, s *models.PrepSheet) models.Task {
	t.Helper()
	i := slices.IndexFunc(s.Tasks, func(t models.Task) bool { return t.Kind == models.TaskBrew })
	require.GreaterOrEqual(t, i, 0)
	return s.Tasks[i]
}
