package api_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// planned sets a shop up with a published plan of its first day.
func (b *bundle) planned() {
	b.t.Helper()
	b.setUp("quay")
	b.put("/v1/sites/quay/expected-demand", rowsOf(map[string]any{"date": "2026-07-10", "day_part": "afternoon", "drink": "iced", "expected": 40})).is(200)
	b.post("/v1/sites/quay/plans", map[string]any{"from": "2026-07-10", "days": 1}).is(201)
	b.post("/v1/sites/quay/plans/latest/publish", map[string]any{}).is(200)
}

func TestUnchangedPlansAndSheetsAreNotSentAgain(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.planned()
	const plan, sheet = "/v1/sites/quay/plans/latest", "/v1/sites/quay/prep-sheets/2026-07-10"
	with := func(path, tag string, header ...string) answer {
		h := map[string]string{"If-None-Match": tag, "Accept-Encoding": "identity"}
		for i := 0; i < len(header); i += 2 {
			h[header[i]] = header[i+1]
		}
		return b.do(call{method: "GET", path: path, header: h})
	}
	tags := map[string]string{}
	for _, path := range []string{plan, plan + "?as=pdf&paper=a4", plan + "?as=pdf&paper=letter", plan + "?as=xlsx", plan + "?as=csv", plan + "?as=csv&table=ice",
		sheet, sheet + "?as=pdf&paper=a4", sheet + "?as=pdf&paper=letter"} {
		a := with(path, "").is(200)
		tag := a.header.Get("ETag")
		require.NotEmpty(t, tag, path)
		require.Empty(t, tags[tag], "%s has the tag of %s", path, tags[tag])
		tags[tag] = path
		same := with(path, tag).is(304)
		require.Empty(t, same.body)
		require.Equal(t, tag, same.header.Get("ETag"))
		require.Equal(t, a.body, with(path, `"other"`).is(200).body)
	}
	byAccept := with(plan, "", "Accept", "text/csv").is(200).header
	require.Equal(t, plan+"?as=csv", tags[byAccept.Get("ETag")])
	require.Contains(t, byAccept.Values("Vary"), "Accept")
	require.Equal(t, plan, tags[with("/v1/sites/quay/plans/1", "").is(200).header.Get("ETag")])
	require.Empty(t, b.get(sheet+"?as=html").is(200).header.Get("ETag"), "the page also shows marks and the time")

	planTag, sheetTag := with(plan, "").header.Get("ETag"), with(sheet, "").header.Get("ETag")
	b.clock.advance(time.Minute)
	var before models.PrepSheet
	b.get(sheet).is(200).into(&before)
	b.do(call{method: "POST", path: sheet + "/delay", body: map[string]any{"minutes": 15, "key": "late"}}).is(200)
	require.NotEqual(t, sheetTag, with(sheet, sheetTag).is(200).header.Get("ETag"), "its times have changed")
	b.put("/v1/sites/quay/expected-demand", rowsOf(map[string]any{"date": "2026-07-10", "day_part": "afternoon", "drink": "iced", "expected": 80})).is(200)
	with(plan, planTag).is(304)
	b.post("/v1/sites/quay/plans", map[string]any{"from": "2026-07-10", "days": 1}).is(201)
	with(plan, planTag).is(200)
	with("/v1/sites/quay/plans/1", planTag).is(304)
	require.Empty(t, with(plan+"?as=csv&table=none", "").is(422).header.Get("ETag"), "a problem has no version")
}

// One way of asking for CSV: Accept, or as in a link.
func TestCSVByAccept(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.planned()
	b.post("/v1/sites/quay/sales-counts", sales(saleRow(nil))).is(200)
	for _, path := range []string{"/plans/latest", "/sales-counts", "/review?from=2026-07-09&days=1"} {
		join := "?"
		if path[len(path)-1] == '1' {
			join = "&"
		}
		accepted := b.do(call{method: "GET", path: "/v1/sites/quay" + path, header: map[string]string{"Accept": "text/csv, application/json;q=0.5"}}).is(200)
		linked := b.get("/v1/sites/quay" + path + join + "as=csv").is(200)
		require.Equal(t, "text/csv; charset=utf-8", accepted.header.Get("Content-Type"), path)
		require.Equal(t, linked.body, accepted.body, path)
	}
}
