package planner

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// Four drinks are expected, and the day that the search prepares for sells twice as many.
func TestABatchMustEarnItsLabour(t *testing.T) {
	t.Parallel()
	r := small()
	r.Demand = []models.Demand{{Date: r.From, DayPart: "pm", Drink: "dune-glass", Expected: 4}}
	r.Brewers[0].BatchCost = 300
	assert.Len(t, planOfRequest(t, r).Batches, 1, "a few minutes' work earns three or four drinks")
	r.Brewers[0].BatchCost = 1700
	p := planOfRequest(t, r)
	assert.Empty(t, p.Batches, "it costs more than four drinks bring")
	assert.LessOrEqual(t, p.Expected.Cost.Total, 1700.0)
}
