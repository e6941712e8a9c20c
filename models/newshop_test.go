package models

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestANewShopIsValidAndLimitsItsHands(t *testing.T) {
	t.Parallel()
	s := NewShop()
	s.Site.Code, s.Site.Timezone, s.Site.Currency = "new", "Europe/Berlin", "EUR"
	require.NoError(t, s.Validate())
	assert.Len(t, s.Site.People, 7)
	assert.Equal(t, OnShift{Weekday: "mon", From: "07:00", To: "19:00", OnShift: 2}, s.Site.People[0])
	assert.Equal(t, FoodRulesStrictest, s.Site.FoodRules)
	assert.Equal(t, DefaultWorkMin(), *s.Site.WorkMin)

	assert.InDelta(t, 0.4, s.Costs.ShortFactor, 0)
	assert.InDelta(t, 0.8, s.Costs.IceFactor(), 0)
	assert.InDelta(t, 400, s.Costs.Net(400), 0, "no tax entered")

	// The API's defaults keep the meaning of requests without the fields.
	var bare Setup
	require.NoError(t, json.Unmarshal([]byte(`{}`), &bare))
	assert.Empty(t, bare.Site.People)
	assert.Nil(t, bare.Site.Baths)
	assert.Zero(t, bare.Site.RemakePct)
	assert.Nil(t, bare.Costs.IceShortFactor)
}

func TestABatchOfANewBrewerCostsItsLabour(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 300, NewShopBatchCost(0, 0, 2), 1e-9, "10 min at 18.00 an hour")
	assert.InDelta(t, 540, NewShopBatchCost(0, 8, 2), 1e-9)
	assert.InDelta(t, 9, NewShopBatchCost(20, 0, 0), 1e-9, "a currency without minor units")
}

func TestShiftsOfANewShopPastMidnight(t *testing.T) {
	t.Parallel()
	got := NewShopPeople(&Site{SetupMin: 90, Opening: []Opening{{Weekday: "sat", From: "01:00", To: "23:00"}}})
	assert.Equal(t, []OnShift{{Weekday: "sat", From: "23:30", To: "00:30", OnShift: 2}}, got)
}
