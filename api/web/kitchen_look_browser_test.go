package web_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// addLook leaves the first brew of a published sheet to a look in jugs of 1.5 kg, and sets the clock to it.
func (s *shop) addLook(t *testing.T) (look, brew models.Task) {
	t.Helper()
	ctx := context.Background()
	setup, v, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	setup.Site.JugG = 1500
	_, _, err = s.store.PutSetup(ctx, setup, v, s.clock())
	require.NoError(t, err)
	sheet, err := s.store.Sheet(ctx, site, saturday)
	require.NoError(t, err)
	at := slices.IndexFunc(sheet.Tasks, func(t models.Task) bool { return t.Kind == models.TaskBrew && t.State == models.Due })
	brew = sheet.Tasks[at]
	full, half := *brew.Batch, *brew.Batch
	half.DoseG, half.BrewWaterG, half.IceG, half.BeverageG = full.DoseG/2, full.BrewWaterG/2, full.IceG/2, full.BeverageG/2
	some, plenty := 2.5*1500, 4.5*1500
	look = models.Task{ID: "look", At: brew.At, Until: brew.At.Add(2 * time.Minute), Hands: 1, Mark: true, Station: "cold store", Kind: models.TaskLook, State: models.Due, Beverage: brew.Beverage,
		Say: "Look.", Why: "What is left by now shows how the day is going.",
		Choice: &models.Choice{ID: "c", Date: saturday, LookAt: brew.At, Beverage: brew.Beverage, Brewer: brew.Station,
			Options: []models.ChoiceOption{{BelowG: &some, Batch: &full}, {BelowG: &plenty, Batch: &half}, {}}}}
	sheet.Tasks = slices.Insert(sheet.Tasks, at, look)
	sheet.Revision++
	require.NoError(t, s.store.PutSheets(ctx, site, []models.PrepSheet{sheet}))
	now := brew.At.Add(time.Minute)
	s.now.Store(&now)
	return look, brew
}

func TestALookIsAnsweredOnTheWall(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	wall := open(t, ctx, s.base+"/sign-in")
	s.publish(t, wall, models.TaskBrew)
	look, brew := s.addLook(t)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.until(bringForward(look.ID))
	wall.says("left?")
	wall.says("2 jugs or fewer: brew")
	wall.says("5 jugs or more: don’t brew")
	wall.until(`document.getElementById("made").hidden`)
	wall.eval(`[...document.querySelectorAll("#s-look .answers button")].find((b) => b.textContent.startsWith("3 ")).click()`)
	wall.until(stateOf("look") + ` === "made"`)
	m, ok := s.standing(t, look.ID)
	require.True(t, ok)
	require.NotNil(t, m.LeftG)
	assert.InDelta(t, 4500, *m.LeftG, 1e-9)
	batch := func() *models.BatchTask {
		sheet, err := s.store.Sheet(context.Background(), site, saturday)
		require.NoError(t, err)
		i := slices.IndexFunc(sheet.Tasks, func(t models.Task) bool { return t.ID == brew.ID })
		require.GreaterOrEqual(t, i, 0)
		if sheet.Tasks[i].State == models.Skipped {
			return nil
		}
		return sheet.Tasks[i].Batch
	}
	require.Eventually(t, func() bool { b := batch(); return b != nil && b.DoseG == brew.Batch.DoseG/2 }, time.Minute, 10*time.Millisecond, "half is brewed")
	// An older board that is still on its way may withdraw Undo for a moment, so it is looked at and touched at once.
	wall.until(`(() => {
	  const back = document.getElementById("back");
	  if (back.disabled || !back.textContent.startsWith("Undo: see how much")) return false;
	  back.click();
	  return true;
	})()`)
	require.Eventually(t, func() bool { b := batch(); return b != nil && b.DoseG == brew.Batch.DoseG }, time.Minute, 10*time.Millisecond, "one touch undoes it")
	wall.until(stateOf("look") + ` === "due"`)
	wall.quiet()
}
