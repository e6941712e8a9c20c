package places

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPlacesAreFoundAsTheyAreTyped(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"Berlin": "Berlin, DE", "zurich": "Zürich, CH", "ZÜRICH": "Zürich, CH", " new  york": "New York City, NY, US",
		"Springfield, IL": "Springfield, IL, US", "Malmo": "Malmö, SE", "oslo, no": "Oslo, NO",
	} {
		got := Find(typed, "", 5)
		require.NotEmpty(t, got, typed)
		assert.Equal(t, want, got[0].String(), typed)
	}
	b := Find("Berlin", "", 1)[0]
	assert.InDelta(t, 52.524, b.Latitude, 0.01)
	assert.InDelta(t, 13.411, b.Longitude, 0.01)
	assert.Empty(t, Find("Nowhere at all", "", 5))
	assert.Empty(t, Find("  ", "", 5))
	assert.Len(t, Find("San", "", 7), 7)
	assert.Equal(t, "GB", Find("London", "GB", 1)[0].Country)
	assert.Equal(t, "CA", Find("London", "CA", 2)[0].Country, "the shop's own country first")
	assert.Equal(t, "GB", Find("London", "CA", 9)[1].Country)
}

func TestEveryPlaceIsOnEarth(t *testing.T) {
	t.Parallel()
	require.Greater(t, len(table()), 10000)
	for _, e := range table() {
		require.True(t, e.Latitude >= -90 && e.Latitude <= 90 && e.Longitude >= -180 && e.Longitude <= 180 && e.Name != "" && len(e.Country) == 2, "%+v", e)
	}
}
