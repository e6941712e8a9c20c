package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestFixForTwoWarningsIsShownOnceWithBothEffects(t *testing.T) {
	t.Parallel()
	bring := []byte(`{"ice":{"opening_g":41000}}`)
	way := func(change string, chance float64) models.Fix {
		return models.Fix{Action: "way " + change, Change: []byte(change), Effect: models.Effect{ChancePct: chance}}
	}
	plan := models.Plan{Warnings: []models.Warning{
		{Kind: models.WarnIceShort, Grade: models.GradeNote, At: at(t, "16:00"), ChancePct: 54, Fixes: []models.Fix{way(string(bring), 2), way(`{"a":1}`, 9)}},
		{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: at(t, "14:00"), ChancePct: 80, Fixes: []models.Fix{way(string(bring), 5)}},
	}}
	var r models.PlanRequest
	r.Site.Timezone, r.Site.Currency = "Europe/Berlin", "EUR"
	views := warningViews(r, plan)
	require.Len(t, views, 2)
	require.Len(t, views[0].Fixes, 1, "shown with the most severe")
	require.Len(t, views[0].Fixes[0].Also, 1)
	assert.Contains(t, views[0].Fixes[0].Also[0], "out of ice for drinks: risk 1 in 2 → 1 in 50")
	require.Len(t, views[1].Fixes, 1, "a fix for this warning only")
	assert.Equal(t, 1, views[1].Fixes[0].Index, "its index in the plan is unchanged")
	assert.Equal(t, []string{"way " + string(bring)}, views[1].FixesAbove)
}
