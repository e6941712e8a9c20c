package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestWeekendSaysWhichBatchesAreLeftToTheDay(t *testing.T) {
	t.Parallel()
	var setup models.Setup
	setup.Site = models.Site{Code: "quay", Timezone: "Europe/Berlin", Currency: "EUR", JugG: 1500}
	setup.Beverages = []models.Beverage{{Code: "house", Name: "House flash"}}
	below := 2.5 * 1500
	st := weekendState{hasPlan: true}
	st.request.Setup = setup
	st.plan = models.Plan{Revision: 1, From: "2026-07-11", Days: 1, ComputedAt: at(t, "08:00"), Choices: []models.Choice{{ID: "c", Date: "2026-07-11", LookAt: at(t, "15:00"), Beverage: "house",
		Options: []models.ChoiceOption{{BelowG: &below, Batch: &models.BatchTask{Beverage: "house", DoseG: 230, BrewWaterG: 2590, IceG: 860, BeverageG: 3000}}, {}}}}}
	p := &pages{Deps: Deps{Now: func() time.Time { return at(t, "09:00") }}}
	v := p.weekendView(head{voice: voiceOf(setup.Site)}, setup, st, "")
	require.Len(t, v.Choices, 1)
	assert.Contains(t, v.Choices[0].When, "15:00")
	assert.Contains(t, v.Choices[0].Say, "House flash left, counting what’s in the bath? 2 jugs or fewer: brew")
	assert.Contains(t, v.Choices[0].Say, "3 jugs or more: don’t brew")
}
