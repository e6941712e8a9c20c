package api_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestPublicHolidaysAreListedAndAdded(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const path = "/v1/sites/quay/holidays"
	type list struct {
		Country, Region string
		Year            int
		Rows            []struct{ Date, Name string }
	}
	var got list
	b.do(call{method: "GET", path: path + "?country=DE&region=BY&year=2026"}).is(200).into(&got)
	assert.Equal(t, "BY", got.Region)
	assert.Greater(t, len(got.Rows), 10)
	b.do(call{method: "GET", path: path + "?country=DE&region=QQ"}).is(422).named("/region", "BY")
	b.do(call{method: "GET", path: path}).is(422).named("/country", "DE")
	b.do(call{method: "GET", path: path + "?country=DE&year=1066"}).is(422).named("/year", "2000 to 2100")
	b.post(path, map[string]any{"year": 2026}).is(422).named("/site/country", "two-letter")

	setup := shop("quay")
	edit(setup, "DE", "site", "country")
	edit(setup, "BY", "site", "region")
	b.do(call{method: "PUT", path: "/v1/sites/quay/setup", body: setup, header: map[string]string{"If-Match": "*"}}).is(200)
	b.put("/v1/sites/quay/events", map[string]any{"events": []any{map[string]any{"from": "2026-12-25T00:00:00+01:00", "to": "2026-12-26T00:00:00+01:00",
		"name": "Christmas", "kind": "holiday", "factor": 0.2}}}).is(200)
	b.post(path, map[string]any{"year": 2026}).is(200).into(&got)
	for _, h := range got.Rows {
		assert.NotEqual(t, "2026-12-25", h.Date, "it has one already")
	}
	n := len(got.Rows)
	require.Greater(t, n, 10)
	var events models.Rows[models.Event]
	b.do(call{method: "GET", path: "/v1/sites/quay/events"}).is(200).into(&events)
	require.Len(t, events.Rows, n+1)
	for _, e := range events.Rows {
		assert.Equal(t, models.HolidayKind, e.Kind)
	}
	b.post(path, map[string]any{"year": 2026}).is(200).into(&got)
	assert.Empty(t, got.Rows, "again: nothing to add")
}
