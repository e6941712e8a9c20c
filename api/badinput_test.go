package api_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// state dumps everything stored for a site, so that a test can check that nothing was written.
func (b *bundle) state(site string) string {
	b.t.Helper()
	ctx := b.t.Context()
	from, to := time.Unix(0, 0), time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)
	var out []any
	take := func(v any, err error) {
		require.NoError(b.t, err)
		out = append(out, v)
	}
	setup, etag, err := b.store.Setup(ctx, site)
	take(setup, err)
	take(etag, nil)
	counts, err := b.store.Counts(ctx, site, models.SalesFilter{}, models.Page{Limit: 5000})
	take(counts, err)
	mappings, err := b.store.Mappings(ctx, site)
	take(mappings, err)
	expected, err := b.store.ExpectedDemand(ctx, site, "1900-01-01", "9000-01-01")
	take(expected, err)
	weather, err := b.store.Weather(ctx, site, from, to, time.Time{})
	take(weather, err)
	events, err := b.store.Events(ctx, site, from, to)
	take(events, err)
	off, err := b.store.OffSale(ctx, site, from, to)
	take(off, err)
	outages, err := b.store.Outages(ctx, site, from, to)
	take(outages, err)
	stock, err := b.store.StockCounts(ctx, site, from, to)
	take(stock, err)
	changes, err := b.store.StockChanges(ctx, site, from, to)
	take(changes, err)
	plans, err := b.store.Plans(ctx, site, models.Page{})
	take(plans, err)
	last, err := b.store.LastEventID(ctx, site)
	take(last, err)
	sites, err := b.store.Sites(ctx)
	take(sites, err)
	text, err := json.Marshal(out)
	require.NoError(b.t, err)
	return string(text)
}

// edit sets one value in doc and returns doc; the path consists of field names and list indexes.
func edit(doc map[string]any, value any, path ...any) map[string]any {
	var at any = doc
	for i, step := range path {
		last := i == len(path)-1
		switch key := step.(type) {
		case string:
			m := at.(map[string]any)
			if last {
				m[key] = value
			}
			at = m[key]
		case int:
			l := at.([]any)
			if last {
				l[key] = value
			}
			at = l[key]
		}
	}
	return doc
}

func previewOf(change func(doc map[string]any)) map[string]any {
	doc := shop("quay")
	doc["from"], doc["days"], doc["now"] = "2026-07-11", 1, "2026-07-10T15:00:00+02:00"
	doc["demand"] = []any{map[string]any{"date": "2026-07-11", "day_part": "morning", "drink": "iced", "expected": 20}}
	change(doc)
	return doc
}

func saleRow(change map[string]any) map[string]any {
	row := map[string]any{"item": "ICED-M", "window_start": "2026-07-10T10:00:00+02:00", "window_end": "2026-07-10T10:15:00+02:00", "count": 3}
	for k, v := range change {
		if v == nil {
			delete(row, k)
		} else {
			row[k] = v
		}
	}
	return row
}

func sales(rows ...map[string]any) map[string]any {
	return map[string]any{"source": "till-1", "counts": rows}
}

func rowsOf(rows ...map[string]any) map[string]any {
	return map[string]any{"rows": append([]map[string]any{}, rows...)}
}

func TestInvalidInputNamesTheFieldAndStoresNothing(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	etag := b.setUp("quay")
	b.post("/v1/sites/quay/sales-counts", sales(saleRow(nil))).is(200)
	setup := func(value any, path ...any) map[string]any { return edit(shop("quay"), value, path...) }
	many := make([]map[string]any, 5001)
	for i := range many {
		many[i] = saleRow(map[string]any{"item": fmt.Sprint("item ", i)})
	}
	demand := func(change map[string]any) map[string]any {
		row := map[string]any{"date": "2026-07-11", "day_part": "morning", "drink": "iced", "expected": 30}
		for k, v := range change {
			row[k] = v
		}
		return rowsOf(row)
	}
	const event = `{"from":"2026-07-11T12:00:00Z","to":"2026-07-11T18:00:00Z","name":"fair"}`
	cases := []struct {
		name, method, path string
		body               any
		status             int
		pointer, accepted  string
	}{
		{"set-up: unknown field", "PUT", "setup", setup(1, "site", "altitude_ft"), 400, "/site/altitude_ft", "altitude_m"},
		{"set-up: unknown field deep inside", "PUT", "setup", setup("x", "ice", "makers", 0, "kg_per_hour"), 400, "/ice/makers/0/kg_per_hour", "kg_per_day_rated"},
		{"set-up: text for a number", "PUT", "setup", setup("2 m", "site", "altitude_m"), 400, "/site/altitude_m", "a number"},
		{"set-up: a required field is missing", "PUT", "setup", setup(nil, "beverages", 0, "ratio"), 400, "/beverages/0/ratio", "a number"},
		{"set-up: kg given for g, out of range", "PUT", "setup", setup(9e9, "site", "store_g"), 422, "/site/store_g", "1e7 or less"},
		{"set-up: a share as a percentage", "PUT", "setup", setup(20, "beverages", 0, "ice_share"), 422, "/beverages/0/ice_share", "less than 1"},
		{"set-up: no such time zone", "PUT", "setup", setup("Europe/Nowhere", "site", "timezone"), 422, "/site/timezone", "IANA"},
		{"set-up: no such clock time", "PUT", "setup", setup("25:00", "site", "day_parts", 0, "from"), 400, "/site/day_parts/0/from", "00:00 to 24:00"},
		{"set-up: overlapping day parts", "PUT", "setup", setup("11:00", "site", "day_parts", 1, "from"), 422, "/site/day_parts/1", "do not overlap"},
		{"set-up: a day part that ends as it starts", "PUT", "setup", setup("08:00", "site", "day_parts", 0, "to"), 422, "/site/day_parts/0/to", "after from"},
		{"set-up: a drink with an unknown beverage", "PUT", "setup", setup("flesh", "drinks", 0, "uses", 0, "beverage"), 422, "/drinks/0/uses/0/beverage", "flash"},
		{"set-up: a beverage with an unknown coffee", "PUT", "setup", setup("none", "beverages", 0, "coffee"), 422, "/beverages/0/coffee", "house"},
		{"set-up: a brewer with an unknown beverage", "PUT", "setup", setup([]any{"cold"}, "brewers", 0, "beverages"), 422, "/brewers/0/beverages/0", "flash"},
		{"set-up: ice above 0 °C", "PUT", "setup", setup(2, "ice", "ice_temp_c"), 422, "/ice/ice_temp_c", "0 or less"},
		{"set-up: a date that does not exist", "PUT", "setup", setup("2026-02-30", "coffees", 0, "lots", 0, "roasted_on"), 400, "/coffees/0/lots/0/roasted_on", "a date that exists"},
		{"set-up: frozen before it was roasted", "PUT", "setup", setup("2026-06-01", "coffees", 0, "lots", 0, "frozen_on"), 422, "/coffees/0/lots/0/frozen_on", "on or after roasted_on"},
		{"set-up: too little water for the grounds", "PUT", "setup", setup(2.4, "beverages", 0, "ratio"), 422, "/beverages/0/ratio", "more than 2.6"},
		{"set-up: another site's code", "PUT", "setup", setup("pier", "site", "code"), 422, "/site/code", "quay"},
		{"set-up: a code twice", "PUT", "setup", setup("iced", "drinks", 1, "code"), 422, "/drinks/1/code", "unique"},
		{"part: unknown field", "PUT", "setup/costs", map[string]any{"short_facter": 1}, 400, "/short_facter", "short_factor"},
		{"part: out of range", "PUT", "setup/ice", setup(3, "ice", "ice_temp_c")["ice"], 422, "/ice_temp_c", "0 or less"},
		{"part: a beverage that a drink uses is removed", "PUT", "setup/beverages", []any{}, 422, "", "existing beverage"},
		{"part: the site's code", "PUT", "setup/site", setup("pier", "site", "code")["site"], 422, "/code", "quay"},

		{"counts: not JSON", "POST", "sales-counts", "{", 400, "", ""},
		{"counts: an empty body", "POST", "sales-counts", []byte(" "), 400, "", ""},
		{"counts: two documents", "POST", "sales-counts", `{"source":"a","counts":[]}{}`, 400, "", ""},
		{"counts: a list", "POST", "sales-counts", `[]`, 400, "", "an object"},
		{"counts: unknown field", "POST", "sales-counts", sales(saleRow(map[string]any{"cuont": 1})), 400, "/counts/0/cuont", "count"},
		{"counts: a capitalised field", "POST", "sales-counts", sales(saleRow(map[string]any{"Item": "x"})), 400, "/counts/0/Item", "item"},
		{"counts: count is missing", "POST", "sales-counts", sales(saleRow(map[string]any{"count": nil})), 400, "/counts/0/count", "a number"},
		{"counts: a count as text", "POST", "sales-counts", sales(saleRow(map[string]any{"count": "3"})), 400, "/counts/0/count", "a number"},
		{"counts: a field given twice", "POST", "sales-counts", strings.Replace(mustJSON(sales(saleRow(nil))), `"count":3`, `"count":3,"count":4`, 1), 400, "/counts/0/count", "each field once"},
		{"counts: not UTF-8", "POST", "sales-counts", strings.Replace(mustJSON(sales(saleRow(nil))), "ICED", "IC\xc9D", 1), 400, "/counts/0/item", ""},
		{"counts: a number that overflows", "POST", "sales-counts", strings.Replace(mustJSON(sales(saleRow(nil))), `"count":3`, `"count":1e999`, 1), 400, "/counts/0/count", "a number"},
		{"counts: a time without offset", "POST", "sales-counts", sales(saleRow(map[string]any{"window_start": "2026-07-10T10:00:00"})), 400, "/counts/0/window_start", "RFC 3339"},
		{"counts: a time that does not exist", "POST", "sales-counts", sales(saleRow(map[string]any{"window_start": "2026-02-30T10:00:00Z"})), 400, "/counts/0/window_start", "RFC 3339"},
		{"counts: a negative count after a valid row", "POST", "sales-counts", sales(saleRow(map[string]any{"count": 9}), saleRow(map[string]any{"count": -1})), 422, "/counts/1/count", "0 to 1000000"},
		{"counts: end before they start", "POST", "sales-counts", sales(saleRow(map[string]any{"window_end": "2026-07-10T09:00:00+02:00"})), 422, "/counts/0/window_end", "after window_start"},
		{"counts: no item", "POST", "sales-counts", sales(saleRow(map[string]any{"item": ""})), 422, "/counts/0/item", "1 to 200"},
		{"counts: no source", "POST", "sales-counts", map[string]any{"source": "", "counts": []any{saleRow(nil)}}, 422, "/source", "1 to 100"},
		{"counts: more than 5,000 rows", "POST", "sales-counts", sales(many...), 413, "/counts", "at most 5000"},
		{"counts: over the limit", "POST", "sales-counts", `{"source":"` + strings.Repeat("x", 3<<20) + `"}`, 413, "", "2 MiB"},

		{"mapping: to an unknown drink", "PUT", "item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "t", "item": "i", "drink": "tea"}}}, 422, "/mappings/0/drink", "iced, long"},
		{"mapping: factor 0", "PUT", "item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "t", "item": "i", "drink": "iced", "factor": 0}}}, 422, "/mappings/0/factor", "more than 0"},
		{"expected: p10 above p90", "PUT", "expected-demand", demand(map[string]any{"p10": 50, "p90": 20}), 422, "/rows/0/p10", "at most p90"},
		{"expected: p10 alone", "PUT", "expected-demand", demand(map[string]any{"p10": 5}), 422, "/rows/0/p90", "both"},
		{"expected: outside its range", "PUT", "expected-demand", demand(map[string]any{"p10": 40, "p90": 60}), 422, "/rows/0/expected", "40 to 60"},
		{"expected: negative", "PUT", "expected-demand", demand(map[string]any{"expected": -1}), 422, "/rows/0/expected", "0 or more"},
		{"expected: no such day part", "PUT", "expected-demand", demand(map[string]any{"day_part": "night"}), 422, "/rows/0/day_part", "morning, afternoon"},
		{"expected: no such drink", "PUT", "expected-demand", demand(map[string]any{"drink": "tea"}), 422, "/rows/0/drink", "iced, long"},
		{"expected: a date that does not exist", "PUT", "expected-demand", demand(map[string]any{"date": "2026-06-31"}), 400, "/rows/0/date", "a date that exists"},
		{"weather: no such kind", "PUT", "weather", map[string]any{"kind": "guess", "issued_at": "2026-07-10T10:00:00Z", "hours": []any{}}, 422, "/kind", "forecast, observed"},
		{"weather: °F for °C", "PUT", "weather", map[string]any{"kind": "forecast", "issued_at": "2026-07-10T10:00:00Z", "hours": []any{map[string]any{"at": "2026-07-11T15:00:00Z", "temp_c": 95}}}, 422, "/hours/0/temp_c", "60 or less"},
		{"events: more than 5,000", "PUT", "events", `{"events":[` + strings.Repeat(event+",", 5000) + event + `]}`, 413, "/events", "at most 5000"},
		{"events: end before start", "PUT", "events", map[string]any{"events": []any{map[string]any{"from": "2026-07-11T12:00:00Z", "to": "2026-07-11T10:00:00Z", "name": "fair"}}}, 422, "/events/0/to", "after from"},
		{"outage: of an unknown brewer", "PUT", "outages", rowsOf(map[string]any{"kind": "brewer", "code": "Right", "from": "2026-07-11T10:00:00Z", "to": "2026-07-11T12:00:00Z"}), 422, "/rows/0/code", "Left"},
		{"attention: end before start", "PUT", "attention", rowsOf(map[string]any{"from": "2026-07-11T12:00:00Z", "to": "2026-07-11T10:00:00Z", "starts": 0}), 422, "/rows/0/to", "after from"},
		{"events: from the year 1", "PUT", "events", strings.Replace(`{"events":[`+event+`]}`, "2026", "0001", 1), 400, "/events/0/from", "from 1970 to 2199"},
		{"weather: an hour of the year 9999", "PUT", "weather", map[string]any{"kind": "forecast", "issued_at": "2026-07-10T10:00:00Z", "hours": []any{map[string]any{"at": "9999-07-11T15:00:00Z", "temp_c": 25}}}, 400, "/hours/0/at", "from 1970 to 2199"},
		{"off-sale: until the year 2200", "POST", "off-sale", rowsOf(map[string]any{"drink": "iced", "from": "2026-07-11T12:00:00Z", "to": "2200-07-11T12:00:00Z"}), 400, "/rows/0/to", "from 1970 to 2199"},
		{"counts: of a till that has lost its clock", "POST", "sales-counts", sales(saleRow(map[string]any{"window_start": "1980-01-01T00:00:00Z", "window_end": "1980-01-01T00:15:00Z"})), 422, "/counts/0/window_start", "from 1990 to 2199"},
		{"stock: counted in 1969", "POST", "stock-counts", map[string]any{"counted_at": "1969-07-10T12:00:00Z", "ice_g": 5}, 400, "/counted_at", "from 1970 to 2199"},
		{"off-sale: no such drink", "POST", "off-sale", rowsOf(map[string]any{"drink": "tea", "from": "2026-07-11T12:00:00Z"}), 422, "/rows/0/drink", "iced, long"},
		{"off-sale: end at start", "POST", "off-sale", rowsOf(map[string]any{"drink": "iced", "from": "2026-07-11T12:00:00Z", "to": "2026-07-11T12:00:00Z"}), 422, "/rows/0/to", "after from"},
		{"brews: of an unknown coffee", "PUT", "measured-brews", rowsOf(map[string]any{"coffee": "tea", "at": "2026-07-10T12:00:00Z", "dose_g": 60, "brew_water_g": 720, "beverage_g": 612, "tds_pct": 1.6}), 422, "/rows/0/coffee", "house"},
		{"brews: nothing dissolved", "PUT", "measured-brews", rowsOf(map[string]any{"coffee": "ridge", "at": "2026-07-10T12:00:00Z", "dose_g": 60, "brew_water_g": 720, "beverage_g": 612, "tds_pct": 0}), 422, "/rows/0/tds_pct", "more than 0"},
		{"stock: negative ice", "POST", "stock-counts", map[string]any{"counted_at": "2026-07-10T12:00:00Z", "ice_g": -5}, 422, "/ice_g", "0 or more"},
		{"stock: nothing counted", "POST", "stock-counts", map[string]any{"counted_at": "2026-07-10T12:00:00Z"}, 422, "", "ice_g"},
		{"stock: an unknown lot", "POST", "stock-counts", map[string]any{"counted_at": "2026-07-10T12:00:00Z", "lots": []any{map[string]any{"lot": "X", "grams": 5, "place": "shelf"}}}, 422, "/lots/0/lot", "H-17"},
		{"stock: more water than the tank holds", "POST", "stock-counts", map[string]any{"counted_at": "2026-07-10T12:00:00Z", "tank_l": 600}, 422, "/tank_l", "at most 60"},
		{"change: grams without a beverage", "POST", "stock-changes", rowsOf(map[string]any{"kind": "made", "g": 5, "at": "2026-07-10T12:00:00Z"}), 422, "/rows/0/beverage", "beverage"},
		{"change: no such kind", "POST", "stock-changes", rowsOf(map[string]any{"kind": "lost", "ice_g": 5, "at": "2026-07-10T12:00:00Z"}), 422, "/rows/0/kind", "made, discarded, bought_in"},

		{"plan: no demand", "POST", "plans", map[string]any{"from": "2026-07-11", "days": 1}, 422, "", "expected-demand"},
		{"plan: no days", "POST", "plans", map[string]any{"from": "2026-07-11"}, 400, "/days", "a whole number"},
		{"plan: 0 days", "POST", "plans", map[string]any{"from": "2026-07-11", "days": 0}, 422, "/days", "1 or more"},
		{"plan: a clock that shows the year 1", "POST", "plans", map[string]any{"from": "2026-07-11", "days": 1, "now": "0001-01-01T00:00:00Z"}, 400, "/now", "from 1970 to 2199"},
		{"plan: half a day", "POST", "plans", map[string]any{"from": "2026-07-11", "days": 0.5}, 400, "/days", "a whole number"},
		{"plan: a date that does not exist", "POST", "plans", map[string]any{"from": "2026-13-01", "days": 1}, 400, "/from", "a date that exists"},
		{"plan: unknown field", "POST", "plans", map[string]any{"from": "2026-07-11", "days": 1, "force": true}, 400, "/force", "from, days, now"},
		{"publish: a body with a field", "POST", "plans/1/publish", map[string]any{"now": "x"}, 400, "/now", ""},
	}
	before := b.state("quay")
	for _, x := range cases {
		t.Run(x.name, func(t *testing.T) {
			a := b.do(call{method: x.method, path: "/v1/sites/quay/" + x.path, body: x.body, header: map[string]string{"If-Match": etag}})
			a.t = t
			a.is(x.status).named(x.pointer, x.accepted)
			require.Equal(t, before, b.state("quay"), "nothing was stored")
		})
	}

	t.Run("plan for a site without set-up", func(t *testing.T) {
		p := b.post("/v1/sites/pier/plans", map[string]any{"from": "2026-07-11", "days": 1}).is(http.StatusNotFound).problem()
		require.Contains(t, p.Detail, "set the shop up first")
	})
	t.Run("counts for a site without set-up", func(t *testing.T) {
		p := b.post("/v1/sites/pier/sales-counts", sales(saleRow(nil))).is(http.StatusNotFound).problem()
		require.Contains(t, p.Detail, "set the shop up first")
	})
	t.Run("creating a site with an invalid set-up", func(t *testing.T) {
		b.put("/v1/sites/pier/setup", edit(shop("pier"), 2, "ice", "ice_temp_c")).is(http.StatusUnprocessableEntity).named("/ice/ice_temp_c", "0 or less")
		b.get("/v1/sites/pier/setup").is(http.StatusNotFound)
	})
}

func mustJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return string(b)
}

// named requires a problem with an error for the pointer, "" for the whole document, whose accepted values contain accepted.
func (a answer) named(pointer, accepted string) {
	a.t.Helper()
	p := a.problem()
	if pointer == "" && accepted == "" {
		require.NotEmpty(a.t, p.Detail)
		return
	}
	for _, f := range p.Errors {
		if f.Pointer == pointer && strings.Contains(f.Accepted, accepted) {
			require.NotEmpty(a.t, f.Detail)
			return
		}
	}
	require.Fail(a.t, "no such field error", "want %q accepting %q, have %s", pointer, accepted, a.body)
}

func TestInvalidPreviewsAndCalculationsNameTheField(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	cases := []struct {
		name, path        string
		body              any
		status            int
		pointer, accepted string
	}{
		{"unknown field", "/v1/plan-previews", previewOf(func(d map[string]any) { d["horizon"] = 3 }), 400, "/horizon", "days"},
		{"no demand at all", "/v1/plan-previews", previewOf(func(d map[string]any) { delete(d, "demand") }), 422, "/demand", "forecast"},
		{"demand for an unknown drink", "/v1/plan-previews", previewOf(func(d map[string]any) { edit(d, "tea", "demand", 0, "drink") }), 422, "/demand/0/drink", "iced, long"},
		{"demand on another day", "/v1/plan-previews", previewOf(func(d map[string]any) { edit(d, "2026-08-01", "demand", 0, "date") }), 422, "/demand/0/date", "2026-07-11"},
		{"p10 above p90", "/v1/plan-previews", previewOf(func(d map[string]any) { edit(d, 90, "demand", 0, "p10"); edit(d, 10, "demand", 0, "p90") }), 422, "/demand/0/p10", "at most p90"},
		{"ice above 0 °C", "/v1/plan-previews", previewOf(func(d map[string]any) { edit(d, 1, "ice", "ice_temp_c") }), 422, "/ice/ice_temp_c", "0 or less"},
		{"stock from the future", "/v1/plan-previews", previewOf(func(d map[string]any) {
			d["stock"] = []any{map[string]any{"beverage": "flash", "g": 10, "made_at": "2026-07-12T00:00:00Z"}}
		}), 422, "/stock/0/made_at", "at or before now"},
		{"more than 14 days", "/v1/plan-previews", previewOf(func(d map[string]any) { d["days"] = 15 }), 422, "/days", "14 or less"},
		{"a clock that shows the year 1", "/v1/plan-previews", previewOf(func(d map[string]any) { d["now"] = "0001-01-01T00:00:00Z" }), 400, "/now", "from 1970 to 2199"},
		{"over 4 MiB", "/v1/plan-previews", `{"x":"` + strings.Repeat("x", 5<<20) + `"}`, 413, "", "4 MiB"},
		{"calculation: unknown field", "/v1/calc/chill", map[string]any{"beverage_g": 100, "beverage_temp_c": 60, "ice_temp_c": -5, "ice_g": 50, "stir": true}, 400, "/stir", "ice_g"},
		{"calculation: a field given twice", "/v1/calc/extraction", `{"dose_g":400,"dose_g":100,"brew_water_g":5000}`, 400, "/dose_g", "each field once"},
		{"calculation: ice above 0 °C", "/v1/calc/chill", map[string]any{"beverage_g": 100, "beverage_temp_c": 60, "ice_temp_c": 5, "ice_g": 50}, 422, "/ice_temp_c", "0"},
	}
	for _, x := range cases {
		t.Run(x.name, func(t *testing.T) {
			a := b.post(x.path, x.body)
			a.t = t
			a.is(x.status).named(x.pointer, x.accepted)
		})
	}
	b.post("/v1/calc/tea", map[string]any{}).is(404).problem()
}

func TestInvalidQueryParametersAreNamed(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for _, x := range []struct {
		path   string
		status int
		name   string
	}{
		{"/sales-counts?form=2026-07-01", 400, "/form"},
		{"/sales-counts?from=yesterday", 400, "/from"},
		{"/sales-counts?from=0001-01-01T00:00:00Z", 400, "/from"},
		{"/sales-counts?to=2200-01-02", 400, "/to"},
		{"/events?from=1969-12-31", 400, "/from"},
		{"/weather?known=9999-12-31T00:00:00Z", 400, "/known"},
		{"/forecast?now=0001-01-01T00:00:00Z", 400, "/now"},
		{"/sales-counts?limit=0", 422, "/limit"},
		{"/sales-counts?limit=x", 400, "/limit"},
		{"/sales-counts?cursor=%21", 422, "/cursor"},
		{"/events?cursor=%21", 422, "/cursor"},
		{"/expected-demand?from=2026-02-30", 400, "/from"},
		{"/forecast?days=15", 422, "/days"},
		{"/live?last_event_id=x", 400, "/last_event_id"},
	} {
		a := b.get("/v1/sites/quay" + x.path).is(x.status)
		require.Equal(t, x.name, a.problem().Errors[0].Pointer, x.path)
	}
	b.get("/v1/sites/quay/sales-counts?limit=999999").is(200)
	b.get("/v1/sites/quay/sales-counts?from=2026-07-10T00:00:00+02:00&to=2026-07-12").is(200)
}
