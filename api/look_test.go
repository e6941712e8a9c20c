package api_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// unsureShop has a published day that leaves its last batch to a look at what is left.
func unsureShop(t *testing.T) (*bundle, models.Task) {
	t.Helper()
	b := publishedFor(t, map[string]any{"expected": 60, "p10": 15, "p90": 120})
	var s models.PrepSheet
	b.get("/v1/sites/quay/prep-sheets/2026-07-11").is(200).into(&s)
	look := slices.IndexFunc(s.Tasks, func(t models.Task) bool { return t.Kind == models.TaskLook })
	require.GreaterOrEqual(t, look, 0, "a day that nobody can foresee leaves a batch to it")
	b.clock.advance(s.Tasks[look].At.Sub(b.clock.Now()))
	return b, s.Tasks[look]
}

func TestALookDecidesTheBatchOfTheSheet(t *testing.T) {
	t.Parallel()
	b, look := unsureShop(t)
	screen := b.newToken("quay", models.ScopeKitchen)
	mark := func(body map[string]any) answer {
		body["at"] = b.clock.Now().Format(time.RFC3339)
		return b.do(call{method: "POST", path: "/v1/tasks/" + look.ID + "/marks", token: screen, body: body})
	}
	brew := func() models.Task {
		var s models.PrepSheet
		b.get("/v1/sites/quay/prep-sheets/2026-07-11").is(200).into(&s)
		i := slices.IndexFunc(s.Tasks, func(t models.Task) bool { return t.Kind == models.TaskBrew && t.ID == look.Choice.Options[0].Batch.ID })
		require.GreaterOrEqual(t, i, 0)
		return s.Tasks[i]
	}
	full := brew()
	require.Equal(t, look.Choice.ID, full.Batch.Choice)
	mark(map[string]any{"state": "made", "key": "a"}).is(422).named("/left_g", "grams of the beverage left")
	require.Equal(t, full, brew(), "nothing is half done")
	b.do(call{method: "POST", path: "/v1/tasks/" + full.ID + "/marks", token: screen,
		body: map[string]any{"state": "started", "at": b.clock.Now().Format(time.RFC3339), "key": "b", "left_g": 3}}).is(422).named("/left_g", "no value")

	plenty := 1e5
	mark(map[string]any{"state": "made", "key": "c", "left_g": plenty}).is(200)
	require.Equal(t, models.Skipped, brew().State)
	mark(map[string]any{"state": "made", "key": "c", "left_g": plenty}).is(200)
	require.Equal(t, models.Skipped, brew().State, "a repeated key changes nothing")

	mark(map[string]any{"state": "made", "key": "d", "left_g": 0, "corrects": true}).is(200)
	again := brew()
	require.Equal(t, models.Due, again.State, "corrected: next to nothing is left")
	require.Equal(t, full.Batch.DoseG, again.Batch.DoseG)
	require.Empty(t, again.Batch.Choice, "it is decided")

	if half := look.Choice.Options[1]; half.Batch != nil {
		mark(map[string]any{"state": "made", "key": "e", "left_g": *half.BelowG - 1, "corrects": true}).is(200)
		require.Equal(t, half.Batch.DoseG, brew().Batch.DoseG)
	}
	mark(map[string]any{"state": "due", "key": "f"}).is(200)
	back := brew()
	require.Equal(t, models.Due, back.State)
	require.Equal(t, look.Choice.ID, back.Batch.Choice, "undone, it waits for a look again")
}
