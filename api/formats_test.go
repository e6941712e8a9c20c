package api_test

import (
	"bytes"
	"context"
	"maps"
	"mime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// publishedShop is a shop with one published plan, based on the manager's numbers.
func publishedShop(t *testing.T) *bundle {
	t.Helper()
	return publishedFor(t, map[string]any{"expected": 30})
}

// publishedFor is a shop with one published plan for a demand, the same in both parts of the day.
func publishedFor(t *testing.T, demand map[string]any) *bundle {
	t.Helper()
	b := newBundle(t)
	b.setUp("quay")
	const site = "/v1/sites/quay"
	var rows []map[string]any
	for _, part := range []string{"morning", "afternoon"} {
		row := maps.Clone(demand)
		row["date"], row["day_part"], row["drink"] = "2026-07-11", part, "iced"
		rows = append(rows, row)
	}
	b.put(site+"/expected-demand", map[string]any{"rows": rows}).is(200)
	b.post(site+"/plans", map[string]any{"from": "2026-07-11", "days": 1}).is(201)
	b.post(site+"/plans/1/publish", nil).is(200)
	return b
}

func TestPDFIsServedByAcceptHeaderAndByParameter(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	viewer := b.newToken("quay", models.ScopeRead)
	const day = "/v1/sites/quay/prep-sheets/2026-07-11"
	ask := func(path, accept, language string) answer {
		return b.do(call{method: "GET", path: path, token: viewer, header: map[string]string{"Accept": accept, "Accept-Language": language}})
	}
	isPDF := func(a answer) string {
		t.Helper()
		a.is(200)
		require.Equal(t, "application/pdf", a.header.Get("Content-Type"))
		require.True(t, strings.HasPrefix(string(a.body), "%PDF-"))
		require.Contains(t, a.header.Get("Content-Disposition"), "inline; filename=")
		return string(a.body)
	}
	a4 := isPDF(ask(day, "application/pdf", "de"))
	require.Contains(t, a4, "595.28 841.89", "A4")
	letter := isPDF(ask(day, "application/pdf", "en-US,en;q=0.9"))
	require.Contains(t, letter, "612.00 792.00", "Letter for en-US")
	require.Equal(t, letter, isPDF(ask(day+"?as=pdf&paper=letter", "text/html", "de")))
	require.Equal(t, a4, isPDF(ask(day+"?as=pdf&paper=a4", "", "en-US")), "the same sheet gives the same file")
	require.Contains(t, ask(day, "application/pdf", "").header.Values("Vary"), "Accept-Language")

	require.Contains(t, ask(day, "text/html,application/pdf;q=0.5", "").is(200).header.Get("Content-Type"), "text/html")
	require.Contains(t, ask(day+"?as=json", "application/pdf", "").is(200).header.Get("Content-Type"), "application/json")
	for path, pointer := range map[string]string{"?as=png": "/as", "?paper=a5": "/paper", "?size=a4": "/size"} {
		p := b.raw(call{method: "GET", path: day + path, token: viewer}).is(400).problem()
		require.Equal(t, pointer, p.Errors[0].Pointer)
	}
	ask(day, "image/png", "").is(406).problem()
	ask("/v1/sites/quay/prep-sheets/2026-07-12?as=pdf", "", "").is(404).problem()

	isPDF(ask("/v1/sites/quay/plans/latest", "application/pdf", ""))
	isPDF(ask("/v1/sites/quay/plans/1?as=pdf", "", ""))
	require.Contains(t, ask("/v1/sites/quay/plans/1", "", "").is(200).header.Get("Content-Type"), "application/json")
	ask("/v1/sites/quay/plans/1", "text/plain", "").is(406).problem()
}

func TestLabels(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	const labels = "/v1/sites/quay/prep-sheets/2026-07-11/labels"
	one := b.get(labels).is(200)
	require.Equal(t, "application/pdf", one.header.Get("Content-Type"))
	require.Contains(t, string(one.body), "175.75 82.20", "62 × 29 mm")
	two := b.get(labels + "?copies=2").is(200)
	require.Equal(t, 2*strings.Count(string(one.body), "/Type /Page\n"), strings.Count(string(two.body), "/Type /Page\n"))
	require.Contains(t, string(b.get(labels+"?label=a4-3x8").is(200).body), "595.28 841.89")
	for path, pointer := range map[string]string{"?label=big": "/label", "?label=9x9": "/label", "?copies=x": "/copies", "?paper=a4": "/paper"} {
		require.Equal(t, pointer, b.raw(call{method: "GET", path: labels + path}).is(400).problem().Errors[0].Pointer)
	}
	b.raw(call{method: "GET", path: labels + "?copies=21"}).is(422).problem()
	b.do(call{method: "GET", path: labels, header: map[string]string{"Accept": "text/html"}}).is(406)
	b.do(call{method: "GET", path: labels, token: "-"}).is(401)
	b.get("/v1/sites/quay/prep-sheets/2026-07-12/labels").is(404)
	b.get("/v1/sites/quay/prep-sheets/july/labels").is(404)
}

func TestCalendarFeedNeedsOnlyItsKey(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	var key struct{ Key, Path string }
	b.do(call{method: "POST", path: "/v1/sites/quay/calendar-key"}).is(201).into(&key)
	feed := b.do(call{method: "GET", path: key.Path, token: "-"}).is(200)
	require.Equal(t, "text/calendar; charset=utf-8", feed.header.Get("Content-Type"))
	unfold := func(a answer) string { return strings.ReplaceAll(string(a.body), "\r\n ", "") }
	var sheet models.PrepSheet
	b.get("/v1/sites/quay/prep-sheets/2026-07-11").is(200).into(&sheet)
	brews := slices.DeleteFunc(sheet.Lines(), func(t models.Task) bool { return t.Kind != models.TaskBrew })
	require.NotEmpty(t, brews)
	for _, task := range brews {
		require.Contains(t, unfold(feed), "UID:"+task.ID+"@hotday\r\n")
		require.Contains(t, unfold(feed), "DTSTART:"+task.At.UTC().Format("20060102T150405Z"))
	}
	require.Equal(t, len(brews)+1, strings.Count(unfold(feed), "\r\nSEQUENCE:1\r\n"), "the brews, and one event for the rest of the day")
	require.NotContains(t, unfold(feed), "CANCELLED")

	// A newer sheet without the task cancels it, with the newer revision as SEQUENCE.
	newer := sheet
	newer.Revision, newer.PublishedAt, newer.Tasks = 2, sheet.PublishedAt.Add(time.Hour), slices.DeleteFunc(slices.Clone(sheet.Tasks), func(t models.Task) bool { return t.ID == brews[0].ID })
	require.NoError(t, b.store.PutSheets(context.Background(), "quay", []models.PrepSheet{newer}))
	feed = b.do(call{method: "GET", path: key.Path, token: "-"}).is(200)
	require.Equal(t, 1, strings.Count(unfold(feed), "STATUS:CANCELLED"))
	require.Equal(t, len(brews)+1, strings.Count(unfold(feed), "\r\nSEQUENCE:2\r\n"))

	for _, path := range []string{"/v1/sites/quay/prep.ics", "/v1/sites/quay/prep.ics?key=wrong", "/v1/sites/pier/prep.ics?key=" + key.Key} {
		b.raw(call{method: "GET", path: path, token: "-"}).is(401).problem()
	}
	b.raw(call{method: "GET", path: key.Path + "&days=3", token: "-"}).is(400).problem()
	b.do(call{method: "DELETE", path: "/v1/sites/quay/calendar-key"}).is(204)
	b.do(call{method: "GET", path: key.Path, token: "-"}).is(401)
}

func TestPlansReviewsAndCountsAreServedAsFiles(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	b.post("/v1/sites/quay/sales-counts", map[string]any{"source": "till", "counts": []any{
		map[string]any{"item": "=ICED", "window_start": "2026-07-04T10:00:00+02:00", "window_end": "2026-07-04T10:15:00+02:00", "count": 3}}}).is(200)
	book := func(path string) *excelize.File {
		a := b.do(call{method: "GET", path: path + "?as=xlsx"}).is(200)
		require.Equal(t, xlsxMedia, a.header.Get("Content-Type"), path)
		f, err := excelize.OpenReader(bytes.NewReader(a.body))
		require.NoError(t, err)
		return f
	}
	csv := func(path string) string {
		a := b.do(call{method: "GET", path: path}).is(200)
		require.Equal(t, "text/csv; charset=utf-8", a.header.Get("Content-Type"), path)
		return string(a.body)
	}
	require.Equal(t, []string{"Saturday 11 July", "Batches", "Ice to make", "Ice bin", "Water", "Beans"}, book("/v1/sites/quay/plans/latest").GetSheetList())
	require.Contains(t, csv("/v1/sites/quay/plans/latest?as=csv"), "Time,Where,Task,Why,Status,Take care\r\n2026-07-11 0", "the tasks, by the shop's clock")
	require.Contains(t, csv("/v1/sites/quay/plans/latest?as=csv&table=batches"), "Brewer,Beverage,Start,Ready,Use by,Coffee (g),Water (g)")
	require.Equal(t, "/table", b.raw(call{method: "GET", path: "/v1/sites/quay/plans/latest?as=csv&table=cakes"}).is(422).problem().Errors[0].Pointer)

	require.Equal(t, []string{"Drinks", "Beverages", "Ice"}, book("/v1/sites/quay/review").GetSheetList())
	require.Contains(t, csv("/v1/sites/quay/review?as=csv&table=ice_used&from=2026-07-01&days=7"), "Day,Planned (g),Needed (g)")

	b.post("/v1/sites/quay/stock-counts", map[string]any{"counted_at": "2026-07-10T14:05:00+02:00", "ice_g": 14500,
		"beverages": []any{map[string]any{"beverage": "flash", "g": 1150, "made_at": "2026-07-10T09:00:00+02:00"}}}).is(200)
	require.Equal(t, "Counted,What,Made at,Amount (g),Amount (L),Kept\r\n2026-07-10 14:05,Ice for drinks,,14500,,\r\n2026-07-10 14:05,House flash,2026-07-10 09:00,1150,,\r\n",
		csv("/v1/sites/quay/stock-counts?as=csv&from=2026-07-01"))
	require.Equal(t, []string{"Stock"}, book("/v1/sites/quay/stock-counts").GetSheetList())

	require.Equal(t, "item,start,end,count,source,drink,factor\r\n'=ICED,2026-07-04 10:00,2026-07-04 10:15,3,till,,1\r\n", csv("/v1/sites/quay/sales-counts?as=csv"),
		"no text is a formula")
	rows, err := book("/v1/sites/quay/sales-counts").GetRows("Counts")
	require.NoError(t, err)
	require.Equal(t, []string{"=ICED", "2026-07-04 10:00", "2026-07-04 10:15", "3", "till", "", "1"}, rows[1])
}

func TestAFilesNameIsQuotedInItsHeader(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	s, _, err := b.store.Setup(t.Context(), "quay")
	require.NoError(t, err)
	s.Site.Code = `old"quay` // as sites could be called before the rule
	_, _, err = b.store.PutSetup(t.Context(), s, "", b.clock.Now())
	require.NoError(t, err)
	a := b.get("/v1/sites/old%22quay/sales-counts?as=csv").is(200)
	_, name, err := mime.ParseMediaType(a.header.Get("Content-Disposition"))
	require.NoError(t, err)
	require.Equal(t, `old"quay-counts-counts.csv`, name["filename"])
}
