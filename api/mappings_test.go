package api_test

import (
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestItemsAreIgnoredMappedFromADayAndUnmapped(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.clock.advance(48 * time.Hour)
	b.setUp("quay")
	const path = "/v1/sites/quay/item-mappings"
	count := func(item, start, end string) map[string]any {
		return map[string]any{"item": item, "window_start": start, "window_end": end, "count": 3}
	}
	b.post("/v1/sites/quay/sales-counts", map[string]any{"source": "till", "counts": []any{
		count("CAKE", "2026-07-04T10:00:00+02:00", "2026-07-04T10:15:00+02:00"),
		count("ICED", "2026-07-04T10:00:00+02:00", "2026-07-04T10:15:00+02:00"),
		count("ICED", "2026-07-11T10:00:00+02:00", "2026-07-11T10:15:00+02:00")}}).is(200)
	put := func(rows ...map[string]any) answer { return b.put(path, map[string]any{"mappings": rows}) }

	var got struct {
		Mappings []models.ItemMapping
		Unmapped []models.UnmappedItem
	}
	put(map[string]any{"source": "till", "item": "CAKE", "drink": nil}).is(200).into(&got)
	require.Len(t, got.Unmapped, 1, "the ignored item is not reported")
	put(map[string]any{"source": "till", "item": "ICED"}).is(400).named("/mappings/0/drink", "text")
	put(map[string]any{"source": "till", "item": "ICED", "drink": "iced"}, map[string]any{"source": "till", "item": "ICED", "drink": "long", "factor": 2, "from": "2026-07-11"}).is(200).into(&got)
	require.Empty(t, got.Unmapped)
	require.Len(t, got.Mappings, 3)
	again := map[string]any{"source": "till", "item": "ICED", "drink": "iced", "from": "2026-07-11"}
	put(again, again).is(422).named("/mappings/1", "once for each day")

	var counts models.Rows[models.SalesRow]
	b.get("/v1/sites/quay/sales-counts?item=ICED").is(200).into(&counts)
	require.Equal(t, "iced", *counts.Rows[0].Drink, "a week before")
	require.Equal(t, "long", *counts.Rows[1].Drink)

	drop := func(q url.Values) answer { return b.do(call{method: "DELETE", path: path + "?" + q.Encode()}) }
	item := url.Values{"source": {"till"}, "item": {"ICED"}}
	from := url.Values{"source": {"till"}, "item": {"ICED"}, "from": {"2026-07-11"}}
	b.do(call{method: "DELETE", path: path + "?" + item.Encode(), token: b.newToken("quay", models.ScopeKitchen)}).is(403)
	drop(url.Values{"source": {"till"}, "item": {"ICED"}, "from": {"soon"}}).is(400).named("/from", "a date that exists")
	drop(from).is(204)
	drop(from).is(404)
	drop(item).is(204)
	drop(item).is(404)
	b.get(path).is(200).into(&got)
	require.Len(t, got.Unmapped, 1)
	require.Equal(t, "ICED", got.Unmapped[0].Item)
}
