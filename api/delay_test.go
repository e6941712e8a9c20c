package api_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestADelayMovesTheRestOfTheDayOnce(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	const day = "/v1/sites/quay/prep-sheets/2026-07-11"
	screen := b.newToken("quay", models.ScopeKitchen)
	var before models.PrepSheet
	b.get(day).is(200).into(&before)
	lines := before.Lines()
	require.NotEmpty(t, lines)
	first := lines[0]
	b.clock.advance(first.At.Sub(b.clock.Now()))

	late := func(body map[string]any) answer {
		return b.do(call{method: "POST", path: day + "/delay", token: screen, body: body})
	}
	var after models.PrepSheet
	late(map[string]any{"minutes": 20, "key": "once"}).is(200).into(&after)
	require.Len(t, after.Delays, 1)
	require.NotEmpty(t, after.Changes)
	moved := 0
	for _, task := range after.Tasks {
		for _, was := range before.Tasks {
			if was.ID != task.ID {
				continue
			}
			require.False(t, task.At.Before(was.At), "%s is not earlier", task.Say)
			if task.At.Sub(was.At).Minutes() == 20 {
				moved++
			}
		}
	}
	require.Greater(t, moved, len(before.Tasks)/2)

	var again models.PrepSheet
	late(map[string]any{"minutes": 20, "key": "once"}).is(200).into(&again)
	require.Equal(t, after.Tasks, again.Tasks, "a repeated key changes nothing")
	require.Equal(t, "/minutes", late(map[string]any{"minutes": 3, "key": "short"}).is(422).problem().Errors[0].Pointer)
	b.do(call{method: "POST", path: day + "/delay", token: b.newToken("quay", models.ScopeSales), body: map[string]any{"minutes": 20, "key": "till"}}).is(403)
	b.do(call{method: "POST", path: "/v1/sites/quay/prep-sheets/2026-07-12/delay", token: screen, body: map[string]any{"minutes": 20, "key": "none"}}).is(404)
}
