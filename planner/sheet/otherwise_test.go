package sheet

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
)

func TestTheCostOfAlternativesReadsAsASentence(t *testing.T) {
	t.Parallel()
	all := []models.Otherwise{{Change: "earlier", Cost: 40}, {Change: "later", Cost: 0.2}, {Change: "left_out", Cost: -310}}
	assert.Equal(t, "Half an hour earlier would cost 0.40 EUR more, half an hour later the same, skipping it 3.10 EUR less.", plain(OtherwiseText(all, models.Site{Currency: "EUR"})))
	all[0] = models.Otherwise{Change: "earlier", Not: "the brewer is busy with another batch"}
	assert.Equal(t, "Half an hour later would cost the same, skipping it 310 JPY less. Half an hour earlier isn't possible: the brewer is busy with another batch.", plain(OtherwiseText(all, models.Site{Currency: "JPY"})))
	assert.Empty(t, OtherwiseText(nil, models.Site{}))
}

func TestBrewTasksSayTheCostOfAlternatives(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json")
	p, err := planner.ComputeWith(t.Context(), r, planner.Options{Budget: 40_000, Days: 100})
	require.NoError(t, err)
	require.NotEmpty(t, p.Batches)
	for _, task := range tasksOf(PrepSheets(r, p, nil, r.Now)[0], models.TaskBrew) {
		assert.True(t, strings.HasPrefix(task.Why, "For "), task.Why)
		assert.Contains(t, task.Why, "kipping it", "what it is for, and what skipping it would cost")
		assert.Contains(t, task.Why, "alf an hour later")
	}
}
