package facts_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner/facts"
)

func TestStockNowIsTheOpeningStockOfAPlan(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, nil)
	now := clock(setup.Site.ServiceDayOf(clock("2026-07-11", 14, 0)), 14, 0)
	ice, tank := 8200.0, 12.5
	require.NoError(t, s.AddStockCount(t.Context(), setup.Site.Code, models.StockCount{CountedAt: clock("2026-07-11", 9, 0), IceG: &ice, TankL: &tank,
		Beverages: []models.Stock{{Beverage: setup.Beverages[0].Code, G: 3300, MadeAt: clock("2026-07-11", 8, 0)}}}, now))
	got, err := facts.StockNow(t.Context(), s, setup.Site.Code, now)
	require.NoError(t, err)
	want := gather(t, s, now)
	assert.Equal(t, want.Ice, got.Ice)
	assert.Equal(t, want.Water, got.Water)
	assert.Equal(t, want.Coffees, got.Coffees)
	assert.Equal(t, want.Stock, got.Stock)
	assert.InDelta(t, 8200, got.Ice.OpeningG, 1e-9)
	assert.NotEmpty(t, got.Stock)
	_, err = facts.StockNow(t.Context(), s, "nowhere", now)
	assert.Equal(t, models.CodeNotFound, models.CodeOf(err))
}
