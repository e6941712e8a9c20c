package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// needsEquipment reports whether a fix's change has larger brewers, stores or bins, more tray loads or an outage less than the request.
func needsEquipment(t *testing.T, r models.PlanRequest, f *models.Fix) bool {
	t.Helper()
	is := patched(t, r, f.Change)
	for i := range r.Brewers {
		if is.Brewers[i].MaxBeverageG > r.Brewers[i].MaxBeverageG {
			return true
		}
	}
	for i := range r.Ice.Moulds {
		if is.Ice.Moulds[i].LoadsAtOnce > r.Ice.Moulds[i].LoadsAtOnce {
			return true
		}
	}
	secondBin := is.Ice.BinG > r.Ice.BinG && is.Ice.OpeningG == r.Ice.OpeningG
	return secondBin || len(is.Outages) < len(r.Outages) || is.Water.MakeLPerH > r.Water.MakeLPerH
}

// On the day itself and the day before, no fix that needs equipment stands before one that can still be done.
func TestFixesThatCanStillBeDoneComeFirst(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json") // few warnings, so that every idea is tried
	o := Options{Budget: 40_000}
	kinds := map[bool]int{}
	for i := range r.Demand { // so much that only the brewer and the water are short
		d := &r.Demand[i]
		d.Expected *= 7
		if d.P10 != nil {
			low, high := 7**d.P10, 7**d.P90
			d.P10, d.P90 = &low, &high
		}
	}
	r.Ice.OpeningG, r.Ice.BinG, r.Ice.Plain.OpeningG, r.Ice.Plain.BinG, r.Site.StoreG = 200_000, 200_000, 200_000, 0, 200_000
	r.Coffees[0].Lots[0].Grams = 100_000
	p, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	tomorrow := r.Site.ServiceDayOf(r.Now).AddDays(1)
	for _, w := range p.Warnings {
		if r.Site.ServiceDayOf(w.At) > tomorrow {
			continue
		}
		later := false
		for _, f := range w.Fixes {
			equipment := needsEquipment(t, r, &f)
			kinds[equipment]++
			assert.False(t, later && !equipment, "%q comes after a fix that needs equipment, of %s", f.Action, w.Cause)
			later = later || equipment
		}
	}
	assert.NotZero(t, kinds[true], "some fix needs equipment")
	assert.NotZero(t, kinds[false], "some fix can still be done")
}
