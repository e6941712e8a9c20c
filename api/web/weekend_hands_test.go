package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

func TestPeoplesTimeIsATableOfHalfHours(t *testing.T) {
	t.Parallel()
	r := models.PlanRequest{Setup: models.Setup{Site: models.Site{Timezone: "Europe/Berlin"}}}
	at := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	plan := models.Plan{Hands: []models.HalfHour{{At: at, OnShift: 2, ServingMin: 41.4, FreeMin: 18.6, UsedMin: 14}, {At: at.Add(30 * time.Minute), OnShift: 1.5, FreeMin: 45}}}
	got := handsTable(r, plan)
	assert.Len(t, got.Rows, 2)
	assert.Contains(t, got.Rows[0].Cells[0], "12:00")
	assert.Equal(t, []string{"2", "41\u202fmin", "19\u202fmin", "14\u202fmin"}, got.Rows[0].Cells[1:])
	assert.Equal(t, "1.5", got.Rows[1].Cells[1])
	assert.Empty(t, handsTable(r, models.Plan{}).Rows, "nobody listed: no table")
}
