package store_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/models/store/pgtest"
)

// opener opens an empty store of one kind of database.
type opener func(t testing.TB, opts ...store.Option) *store.Store

// openers are the databases to run the suites on.
var openers = map[string]opener{"sqlite": openSQLite, "postgres": openPostgres}

func openPostgres(t testing.TB, opts ...store.Option) *store.Store {
	t.Helper()
	return openAt(t, newPostgres(t), append([]store.Option{store.WithSecretFile(filepath.Join(t.TempDir(), "shop.key"))}, opts...)...)
}

// newPostgres returns the URL of a new database with the schema.
func newPostgres(t testing.TB) string {
	return pgtest.Database(t, func(dsn string) error {
		s, err := store.Open(ctx, dsn)
		if err != nil {
			return err
		}
		return s.Close()
	})
}

func openAt(t testing.TB, dsn string, opts ...store.Option) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, dsn, opts...)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func openSQLite(t testing.TB, opts ...store.Option) *store.Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "shop.db"), opts...)
}

// TestStore is the conformance suite for every database.
func TestStore(t *testing.T) {
	t.Parallel()
	suite := []struct {
		name string
		test func(t *testing.T, open opener)
	}{
		{"set-up is versioned by its ETag", setupIsVersioned},
		{"sites are listed in pages and searched by name and code", sitesListed},
		{"changes that a check for shortages must see are counted", changesCounted},
		{"every method returns not found for an unknown site", unknownSite},
		{"counts are unique by their key", countsByKey},
		{"the last of several rows with one key wins", lastRowWins},
		{"a repeated idempotency key returns the stored result", idempotencyKeys},
		{"counts are filtered by overlap, source and item, and paged", countsPaged},
		{"invalid cursors are rejected", invalidCursors},
		{"mappings apply to past counts", mappingsApplyToPastCounts},
		{"mappings hold from their day", mappingsHoldFromTheirDay},
		{"expected demand is replaced and withdrawn", expectedDemand},
		{"weather is read as known at a time", weatherAsKnown},
		{"a manager's high holds until it is cleared", weatherHighs},
		{"one forecast of each half day is kept", weatherThinned},
		{"the state of fetching the forecast is kept", weatherFetchState},
		{"the forecast state is preserved", forecastState},
		{"every entry of expected demand is kept", expectedDemandHistory},
		{"past forecasts are kept and the track record is replaced", pastForecasts},
		{"measured brews are kept by coffee and time", measuredBrews},
		{"changes that were learnt are kept with their undoing", learntChanges},
		{"progress is stored, asked to stop and removed", progress},
		{"events and off-sale spans are found by overlap", eventsOverlap},
		{"late counts mark their days", lateCounts},
		{"outages and attention are replaced and deleted", outages},
		{"stock counts and changes are returned in order", stockInOrder},
		{"plan revisions increase and are immutable", planRevisions},
		{"a replaced sheet's tasks are found and the new sheet keeps states", sheetsReplaced},
		{"a mark is stored once per key; due undoes the last", marksAreOnce},
		{"a task ID belongs to one site", taskOfAnotherSite},
		{"warnings are opened once, updated and closed", warningsSync},
		{"live events have increasing IDs and notify after the commit", liveEvents},
		{"a transaction is atomic", transactions},
		{"a read transaction sees one snapshot and cannot write", snapshots},
		{"tokens are found by their secret", tokens},
		{"groups have sites, and tokens reach them", groups},
		{"states of sites are found by rank, group and text, and computed again after changes", siteStates},
		{"tasks of a lot are found", lotTasks},
		{"a pairing code works once", screens},
		{"a site has at most one calendar key", calendarKeys},
		{"people have a password and permissions", people},
		{"sessions are listed with their holder, and ended", sessionsByHolder},
		{"the audit log is kept in order", auditLog},
		{"webhooks receive committed events that they subscribe to", webhooks},
		{"an address is confirmed before anything is sent to it", mailSettings},
		{"a link stops messages", mailStops},
		{"only those who may read get messages", mailReaders},
		{"a warning is sent once, and again when it is more urgent", mailWarnings},
		{"messages are logged with their attempts", mailAttempts},
		{"a device is turned on and off", pushDevices},
		{"a warning is shown once on a device, and again when it is more urgent", pushWarnings},
		{"notifications are logged with their attempts", pushAttempts},
		{"sessions expire", sessions},
		{"attempts at a password are counted by all who use the database", attempts},
		{"concurrent writers and readers lose nothing", concurrency},
	}
	for name, open := range openers {
		for _, c := range suite {
			t.Run(name+"/"+c.name, func(t *testing.T) {
				t.Parallel()
				c.test(t, open)
			})
		}
	}
}

const shop = "harbour"

var (
	ctx = context.Background()
	t0  = time.Date(2026, 7, 10, 15, 0, 0, 0, time.UTC)
)

func at(min int) time.Time { return t0.Add(time.Duration(min) * time.Minute) }

func setupOf(code string) models.Setup {
	return models.Setup{Site: models.Site{Code: code, Name: "Harbour bar", Timezone: "Europe/Rome", Currency: "EUR"}}
}

func withShop(t testing.TB, open opener, opts ...store.Option) *store.Store {
	t.Helper()
	s := open(t, opts...)
	_, made, err := s.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	require.True(t, made)
	return s
}

func isCode(t testing.TB, want models.Code, err error) {
	t.Helper()
	require.Error(t, err)
	require.Equal(t, want, models.CodeOf(err), "%v", err)
}

func setupIsVersioned(t *testing.T, open opener) {
	s := open(t)
	_, _, err := s.Setup(ctx, shop)
	isCode(t, models.CodeNotFound, err)
	require.Contains(t, err.Error(), "set the shop up first")
	_, _, err = s.PutSetup(ctx, setupOf(shop), "1-abc", t0)
	isCode(t, models.CodePrecondition, err)

	first, made, err := s.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	require.True(t, made)
	_, _, err = s.PutSetup(ctx, setupOf(shop), "", t0)
	isCode(t, models.CodeNeedsMatch, err)

	changed := setupOf(shop)
	changed.Site.StoreG = 40000
	second, made, err := s.PutSetup(ctx, changed, first, at(1))
	require.NoError(t, err)
	require.False(t, made)
	require.NotEqual(t, first, second)
	_, _, err = s.PutSetup(ctx, setupOf(shop), first, at(2))
	isCode(t, models.CodePrecondition, err)
	again, _, err := s.PutSetup(ctx, changed, second, at(3))
	require.NoError(t, err)
	require.Equal(t, second, again, "an unchanged document is not a new version")
	back, _, err := s.PutSetup(ctx, setupOf(shop), "*", at(4))
	require.NoError(t, err)
	require.NotEqual(t, first, back, "an old document as a new version has another ETag")

	got, etag, err := s.Setup(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, back, etag)
	require.Equal(t, setupOf(shop), got)
	etag, err = s.SetupETag(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, back, etag)
	versions, err := s.SetupVersions(ctx, shop, 2)
	require.NoError(t, err)
	require.Len(t, versions, 2, "at most limit, newest first")
	require.Equal(t, []int{3, 2}, []int{versions[0].Version, versions[1].Version})
	require.Equal(t, at(4).UTC(), versions[0].StoredAt)
	require.Equal(t, changed, versions[1].Setup)
	_, _, err = s.PutSetup(ctx, setupOf("annex"), "", t0)
	require.NoError(t, err)
	codes, err := s.Sites(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"annex", shop}, codes)
}

func unknownSite(t *testing.T, open opener) {
	s := withShop(t, open)
	const none = "nowhere"
	calls := map[string]func() error{
		"PutCounts": func() error {
			_, err := s.PutCounts(ctx, none, post(count("espresso", 0, 15, 1)), t0, "k", "h")
			return err
		},
		"WatchState":            func() error { _, _, err := s.WatchState(ctx, none); return err },
		"PutWatched":            func() error { return s.PutWatched(ctx, none, models.Watched{}) },
		"Counts":                func() error { _, err := s.Counts(ctx, none, models.SalesFilter{}, models.Page{}); return err },
		"CountsReceivedAt":      func() error { _, err := s.CountsReceivedAt(ctx, none); return err },
		"PutMappings":           func() error { return s.PutMappings(ctx, none, nil) },
		"Mappings":              func() error { _, err := s.Mappings(ctx, none); return err },
		"DropMappings":          func() error { return s.DropMappings(ctx, none, "till", "a", nil) },
		"Unmapped":              func() error { _, err := s.Unmapped(ctx, none); return err },
		"PutExpectedDemand":     func() error { return s.PutExpectedDemand(ctx, none, nil, t0) },
		"ExpectedDemand":        func() error { _, err := s.ExpectedDemand(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"PutWeather":            func() error { return s.PutWeather(ctx, none, models.WeatherPost{}) },
		"Weather":               func() error { _, err := s.Weather(ctx, none, t0, at(60), t0); return err },
		"ThinWeather":           func() error { return s.ThinWeather(ctx, none, t0, at(60)) },
		"PutWeatherHigh":        func() error { return s.PutWeatherHigh(ctx, none, "2026-07-11", nil, t0) },
		"WeatherHighs":          func() error { _, err := s.WeatherHighs(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"WeatherFetch":          func() error { _, err := s.WeatherFetch(ctx, none); return err },
		"PutWeatherFetch":       func() error { return s.PutWeatherFetch(ctx, none, models.WeatherFetch{}) },
		"PutForecastState":      func() error { return s.PutForecastState(ctx, none, models.ForecastState{}) },
		"SetupETag":             func() error { _, err := s.SetupETag(ctx, none); return err },
		"SetupVersions":         func() error { _, err := s.SetupVersions(ctx, none, 5); return err },
		"ForecastState":         func() error { _, err := s.ForecastState(ctx, none); return err },
		"LateDays":              func() error { _, err := s.LateDays(ctx, none, t0); return err },
		"ExpectedDemandHistory": func() error { _, err := s.ExpectedDemandHistory(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"PutDayForecasts":       func() error { return s.PutDayForecasts(ctx, none, nil) },
		"DayForecasts":          func() error { _, err := s.DayForecasts(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"PutTrackRecord":        func() error { return s.PutTrackRecord(ctx, none, models.TrackRecord{}) },
		"TrackRecord":           func() error { _, _, err := s.TrackRecord(ctx, none); return err },
		"PutPastReplay":         func() error { return s.PutPastReplay(ctx, none, models.Replay{}) },
		"PastReplay":            func() error { _, err := s.PastReplay(ctx, none); return err },
		"WarningsOpened":        func() error { _, err := s.WarningsOpened(ctx, none, t0, at(60)); return err },
		"PutProgress":           func() error { _, err := s.PutProgress(ctx, none, models.Progress{}); return err },
		"Progress":              func() error { _, err := s.Progress(ctx, none); return err },
		"StopWork":              func() error { return s.StopWork(ctx, none, "refit") },
		"DropProgress":          func() error { return s.DropProgress(ctx, none, "refit", "k") },
		"PutEvents":             func() error { return s.PutEvents(ctx, none, nil) },
		"Events":                func() error { _, err := s.Events(ctx, none, t0, at(60)); return err },
		"DropEvent":             func() error { return s.DropEvent(ctx, none, t0, at(60), "fair") },
		"DropOffSale":           func() error { return s.DropOffSale(ctx, none, "flash", t0) },
		"PutOffSale":            func() error { return s.PutOffSale(ctx, none, nil) },
		"OffSale":               func() error { _, err := s.OffSale(ctx, none, t0, at(60)); return err },
		"PutOutages":            func() error { return s.PutOutages(ctx, none, nil) },
		"Outages":               func() error { _, err := s.Outages(ctx, none, t0, at(60)); return err },
		"PutAttention":          func() error { return s.PutAttention(ctx, none, nil) },
		"Attention":             func() error { _, err := s.Attention(ctx, none, t0, at(60)); return err },
		"AddStockCount":         func() error { return s.AddStockCount(ctx, none, models.StockCount{}, t0) },
		"StockCounts":           func() error { _, err := s.StockCounts(ctx, none, t0, at(60)); return err },
		"AddStockChanges":       func() error { return s.AddStockChanges(ctx, none, nil, t0) },
		"StockChanges":          func() error { _, err := s.StockChanges(ctx, none, t0, at(60)); return err },
		"SetAside":              func() error { return s.SetAside(ctx, none, 1, t0) },
		"AddPlan":               func() error { _, _, err := s.AddPlan(ctx, none, models.Plan{}, models.PlanRequest{}, t0); return err },
		"Plan":                  func() error { _, _, err := s.Plan(ctx, none, 1); return err },
		"LatestPlan":            func() error { _, _, err := s.LatestPlan(ctx, none); return err },
		"PlanByDigest":          func() error { _, _, err := s.PlanByDigest(ctx, none, "d"); return err },
		"Plans":                 func() error { _, err := s.Plans(ctx, none, models.Page{}); return err },
		"PutSheets":             func() error { return s.PutSheets(ctx, none, nil) },
		"Sheet":                 func() error { _, err := s.Sheet(ctx, none, "2026-07-11"); return err },
		"Sheets":                func() error { _, err := s.Sheets(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"DroppedTasks":          func() error { _, err := s.DroppedTasks(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"AddMark":               func() error { _, err := s.AddMark(ctx, none, models.TaskMark{}, t0); return err },
		"Marks":                 func() error { _, err := s.Marks(ctx, none, "2026-07-11", "2026-07-12"); return err },
		"SyncWarnings":          func() error { _, err := s.SyncWarnings(ctx, none, nil, nil, t0); return err },
		"OpenWarnings":          func() error { _, err := s.OpenWarnings(ctx, none); return err },
		"AckWarning":            func() error { _, err := s.AckWarning(ctx, none, "x", "Ada", t0); return err },
		"AddEvent":              func() error { _, err := s.AddEvent(ctx, models.LiveEvent{Site: none}); return err },
		"EventsAfter":           func() error { _, err := s.EventsAfter(ctx, none, 0, 10); return err },
		"LastEventID":           func() error { _, err := s.LastEventID(ctx, none); return err },
		"AddToken":              func() error { _, _, err := s.AddToken(ctx, models.Token{Site: none}, t0); return err },
	}
	for name, call := range calls {
		require.Equal(t, models.CodeNotFound, models.CodeOf(call()), name)
	}
	for name, err := range map[string]error{
		"plan":            func() error { _, _, err := s.Plan(ctx, shop, 1); return err }(),
		"latest plan":     func() error { _, _, err := s.LatestPlan(ctx, shop); return err }(),
		"sheet":           func() error { _, err := s.Sheet(ctx, shop, "2026-07-11"); return err }(),
		"task":            func() error { _, _, _, _, err := s.Task(ctx, "x"); return err }(),
		"mark":            func() error { _, err := s.AddMark(ctx, shop, models.TaskMark{Task: "x"}, t0); return err }(),
		"warning":         func() error { _, err := s.AckWarning(ctx, shop, "x", "Ada", t0); return err }(),
		"token":           func() error { _, err := s.TokenByID(ctx, "x"); return err }(),
		"token to revoke": s.RevokeToken(ctx, "x", t0),
	} {
		require.Equal(t, models.CodeNotFound, models.CodeOf(err), name)
	}
}

func count(item string, from, to int, n float64) models.SalesCount {
	return models.SalesCount{Item: item, WindowStart: at(from), WindowEnd: at(to), Count: n}
}

func post(counts ...models.SalesCount) models.SalesPost {
	return models.SalesPost{Source: "till", Counts: counts}
}

func putCounts(t testing.TB, s models.Store, p models.SalesPost) models.SalesResult {
	t.Helper()
	res, err := s.PutCounts(ctx, shop, p, t0, "", "")
	require.NoError(t, err)
	return res
}

func countsByKey(t *testing.T, open opener) {
	s := withShop(t, open)
	last, err := s.CountsReceivedAt(ctx, shop)
	require.NoError(t, err)
	require.True(t, last.IsZero())

	first := post(count("iced latte", 0, 15, 3), count("iced latte", 15, 30, 4), count("flash", 0, 15, 2.5))
	require.Equal(t, models.SalesResult{New: 3, Unmapped: 3}, putCounts(t, s, first))
	require.Equal(t, models.SalesResult{Unchanged: 3, Unmapped: 3}, putCounts(t, s, first))
	require.Equal(t, models.SalesResult{New: 1, Replaced: 1, Unchanged: 1, Unmapped: 3},
		putCounts(t, s, post(count("iced latte", 0, 15, 5), count("flash", 0, 15, 2.5), count("iced latte", 0, 30, 9))),
		"a different end is a different count")
	other := first
	other.Source = "web shop"
	require.Equal(t, models.SalesResult{New: 3, Unmapped: 3}, putCounts(t, s, other), "a different source is a different count")

	// The same instants with another offset have the same key.
	rome := time.FixedZone("", 2*3600)
	shifted := post(models.SalesCount{Item: "flash", WindowStart: at(0).In(rome), WindowEnd: at(15).In(rome), Count: 2.5})
	require.Equal(t, models.SalesResult{Unchanged: 1, Unmapped: 1}, putCounts(t, s, shifted))

	got, err := s.Counts(ctx, shop, models.SalesFilter{Source: "till"}, models.Page{})
	require.NoError(t, err)
	require.Nil(t, got.Next)
	require.Len(t, got.Rows, 4)
	sum := 0.0
	for _, r := range got.Rows {
		require.Equal(t, "till", r.Source)
		require.Nil(t, r.Drink)
		require.Equal(t, 1.0, r.Factor)
		require.True(t, r.ReceivedAt.Equal(t0))
		sum += r.Count
	}
	require.Equal(t, 5+4+2.5+9, sum)
	last, err = s.CountsReceivedAt(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, t0, last, "when they arrived, not the end of their windows")
	require.Equal(t, models.SalesResult{}, putCounts(t, s, post()), "an empty post is allowed")
}

func lastRowWins(t *testing.T, open opener) {
	s := withShop(t, open)
	require.Equal(t, models.SalesResult{New: 1, Replaced: 1, Unchanged: 1, Unmapped: 3},
		putCounts(t, s, post(count("flash", 0, 15, 1), count("flash", 0, 15, 2), count("flash", 0, 15, 2))))
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, 2.0, got.Rows[0].Count)
}

func idempotencyKeys(t *testing.T, open opener) {
	s := withShop(t, open)
	p := post(count("flash", 0, 15, 1))
	first, err := s.PutCounts(ctx, shop, p, t0, "key-1", "hash-1")
	require.NoError(t, err)
	require.Equal(t, 1, first.New)
	again, err := s.PutCounts(ctx, shop, post(count("flash", 0, 15, 99)), at(1), "key-1", "hash-1")
	require.NoError(t, err)
	require.Equal(t, first, again, "the stored result, not a new one")
	_, err = s.PutCounts(ctx, shop, p, at(1), "key-1", "hash-2")
	isCode(t, models.CodeConflict, err)
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, 1.0, got.Rows[0].Count)

	_, _, err = s.PutSetup(ctx, setupOf("annex"), "", t0)
	require.NoError(t, err)
	res, err := s.PutCounts(ctx, "annex", p, t0, "key-1", "hash-2")
	require.NoError(t, err, "keys are per site")
	require.Equal(t, 1, res.New)
}

func countsPaged(t *testing.T, open opener) {
	s := withShop(t, open)
	var all []models.SalesCount
	for i := range 40 {
		all = append(all, count("flash", 15*i, 15*i+15, float64(i)), count("latte", 15*i, 15*i+15, float64(i)))
	}
	all = append(all, count("latte", 0, 600, 1000))
	putCounts(t, s, post(all...))

	for _, limit := range []int{1, 7, 80, 81, 82, 0} {
		seen := map[string]bool{}
		p := models.Page{Limit: limit}
		for pages := 0; ; pages++ {
			require.Less(t, pages, 100)
			got, err := s.Counts(ctx, shop, models.SalesFilter{}, p)
			require.NoError(t, err)
			for i, r := range got.Rows {
				k := fmt.Sprint(r.Item, r.WindowStart, r.WindowEnd)
				require.False(t, seen[k], "returned twice")
				seen[k] = true
				require.True(t, i == 0 || !r.WindowStart.Before(got.Rows[i-1].WindowStart), "in time order")
			}
			if got.Next == nil {
				break
			}
			require.Len(t, got.Rows, limit)
			require.Equal(t, strings.Trim(*got.Next, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"), "", "URL-safe")
			p.Cursor = *got.Next
		}
		require.Len(t, seen, len(all), "limit %d", limit)
	}

	got, err := s.Counts(ctx, shop, models.SalesFilter{From: at(300), To: at(330)}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 5, "two windows of each item, and the long one that started hours before")
	got, err = s.Counts(ctx, shop, models.SalesFilter{Item: "flash", From: at(30)}, models.Page{Limit: models.MaxLimit + 1})
	require.NoError(t, err)
	require.Len(t, got.Rows, 38)
	got, err = s.Counts(ctx, shop, models.SalesFilter{Source: "another"}, models.Page{})
	require.NoError(t, err)
	require.NotNil(t, got.Rows, "an empty list is [] in JSON")
	require.Empty(t, got.Rows)
}

func invalidCursors(t *testing.T, open opener) {
	s := withShop(t, open)
	putCounts(t, s, post(count("flash", 0, 15, 1), count("flash", 15, 30, 1)))
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{Limit: 1})
	require.NoError(t, err)
	for _, c := range []string{"x", "%%%", "bm9uZQ", *got.Next + "A"} {
		_, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{Cursor: c})
		isCode(t, models.CodeInvalid, err)
	}
	_, err = s.Plans(ctx, shop, models.Page{Cursor: *got.Next})
	isCode(t, models.CodeInvalid, err)
}

func mappingsApplyToPastCounts(t *testing.T, open opener) {
	s := withShop(t, open)
	putCounts(t, s, post(count("LATTE L", 0, 15, 2), count("LATTE L", 15, 30, 3), count("CAKE", 0, 15, 7)))
	un, err := s.Unmapped(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.UnmappedItem{
		{Source: "till", Item: "CAKE", Count: 7, FirstSeen: at(0), LastSeen: at(15)},
		{Source: "till", Item: "LATTE L", Count: 5, FirstSeen: at(0), LastSeen: at(30)}}, un)

	early := models.ItemMapping{Source: "till", Item: "FLASH", Drink: new("flash"), Factor: 1}
	require.NoError(t, s.PutMappings(ctx, shop, []models.ItemMapping{{Source: "till", Item: "LATTE L", Drink: new("latte"), Factor: 1}, early}))
	large := models.ItemMapping{Source: "till", Item: "LATTE L", Drink: new("latte"), Factor: 1.5}
	require.NoError(t, s.PutMappings(ctx, shop, []models.ItemMapping{large}))
	list, err := s.Mappings(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.ItemMapping{early, large}, list)

	got, err := s.Counts(ctx, shop, models.SalesFilter{Item: "LATTE L"}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 2)
	for _, r := range got.Rows {
		require.Equal(t, "latte", *r.Drink, "counted before it was mapped")
		require.Equal(t, 1.5, r.Factor)
	}
	require.Equal(t, models.SalesResult{New: 3, Unmapped: 1},
		putCounts(t, s, post(count("FLASH", 0, 15, 1), count("LATTE L", 30, 45, 1), count("CAKE", 15, 30, 1))))
	un, err = s.Unmapped(ctx, shop)
	require.NoError(t, err)
	require.Len(t, un, 1)
	require.Equal(t, 8.0, un[0].Count)
}

func mappingsHoldFromTheirDay(t *testing.T, open opener) {
	s := withShop(t, open)
	day := models.DateOf(at(0), time.UTC)
	setup, _, err := s.Setup(ctx, shop)
	require.NoError(t, err)
	minutes := func(d models.Date) float64 { return setup.Site.DayEnd(d.AddDays(-1)).Sub(at(0)).Minutes() }
	next := day.AddDays(1)
	before, after := int(minutes(next))-15, int(minutes(next))
	putCounts(t, s, post(count("LATTE L", 0, 15, 2), count("LATTE L", before, after, 3), count("LATTE L", after, after+15, 4), count("CAKE", 0, 15, 7)))
	ignored := models.ItemMapping{Source: "till", Item: "CAKE", Factor: 1}
	first := models.ItemMapping{Source: "till", Item: "LATTE L", Drink: new("latte"), Factor: 1}
	then := models.ItemMapping{Source: "till", Item: "LATTE L", Drink: new("flash"), Factor: 2, From: &next}
	require.NoError(t, s.PutMappings(ctx, shop, []models.ItemMapping{first, then, ignored}))
	list, err := s.Mappings(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.ItemMapping{ignored, first, then}, list)

	drinks := func() (out []string) {
		got, err := s.Counts(ctx, shop, models.SalesFilter{Item: "LATTE L"}, models.Page{})
		require.NoError(t, err)
		for _, r := range got.Rows {
			if r.Drink == nil {
				out = append(out, "")
				continue
			}
			out = append(out, fmt.Sprint(*r.Drink, r.Factor))
		}
		return out
	}
	require.Equal(t, []string{"latte1", "latte1", "flash2"}, drinks(), "earlier counts stay as they were mapped")
	un, err := s.Unmapped(ctx, shop)
	require.NoError(t, err)
	require.Empty(t, un, "an ignored item is not unmapped")
	require.Equal(t, models.SalesResult{New: 1}, putCounts(t, s, post(count("CAKE", 15, 30, 1))))

	isCode(t, models.CodeNotFound, s.DropMappings(ctx, shop, "till", "LATTE L", &day))
	require.NoError(t, s.DropMappings(ctx, shop, "till", "LATTE L", &next))
	require.Equal(t, []string{"latte1", "latte1", "latte1"}, drinks())
	require.NoError(t, s.DropMappings(ctx, shop, "till", "LATTE L", nil))
	require.Equal(t, []string{"", "", ""}, drinks())
	isCode(t, models.CodeNotFound, s.DropMappings(ctx, shop, "till", "LATTE L", nil))
	un, err = s.Unmapped(ctx, shop)
	require.NoError(t, err)
	require.Len(t, un, 1)
}

func expectedDemand(t *testing.T, open opener) {
	s := withShop(t, open)
	row := func(date models.Date, n *float64) models.ExpectedDemand {
		return models.ExpectedDemand{Date: date, DayPart: "noon", Drink: "flash", Expected: n}
	}
	first := row("2026-07-11", new(40.0))
	first.P10, first.P90, first.Note = new(30.0), new(55.0), "street fair"
	require.NoError(t, s.PutExpectedDemand(ctx, shop, []models.ExpectedDemand{first, row("2026-07-12", new(0.0)), row("2026-07-13", new(9.0))}, t0))
	got, err := s.ExpectedDemand(ctx, shop, "2026-07-11", "2026-07-13")
	require.NoError(t, err)
	require.Equal(t, []models.ExpectedDemand{first, row("2026-07-12", new(0.0))}, got)

	require.NoError(t, s.PutExpectedDemand(ctx, shop, []models.ExpectedDemand{row("2026-07-11", new(50.0)), row("2026-07-12", nil)}, t0))
	got, err = s.ExpectedDemand(ctx, shop, "2026-07-11", "2026-07-13")
	require.NoError(t, err)
	require.Equal(t, []models.ExpectedDemand{row("2026-07-11", new(50.0))}, got, "replaced as a whole, and withdrawn")
}

func forecastState(t *testing.T, open opener) {
	s := withShop(t, open)
	got, err := s.ForecastState(ctx, shop)
	require.NoError(t, err)
	require.Nil(t, got.Learnt)
	for _, f := range []models.ForecastState{
		{MadeAt: at(0), Through: "2026-07-09", Learnt: []byte{0, 1, 255}, Past: []byte("days")},
		{MadeAt: at(60), Through: "2026-07-10", Learnt: []byte{2}, Past: []byte("more days")},
	} {
		require.NoError(t, s.PutForecastState(ctx, shop, f))
		got, err := s.ForecastState(ctx, shop)
		require.NoError(t, err)
		require.True(t, f.MadeAt.Equal(got.MadeAt))
		got.MadeAt = f.MadeAt
		require.Equal(t, f, got)
	}
}

func weatherAsKnown(t *testing.T, open opener) {
	s := withShop(t, open)
	put := func(kind string, issued int, temps map[int]float64) {
		w := models.WeatherPost{Kind: kind, IssuedAt: at(issued)}
		for min, c := range temps {
			w.Hours = append(w.Hours, models.WeatherHour{At: at(min), TempC: c, HumidityPct: new(40.0)})
		}
		require.NoError(t, s.PutWeather(ctx, shop, w))
	}
	temps := func(known time.Time) map[int]float64 {
		got, err := s.Weather(ctx, shop, at(0), at(240), known)
		require.NoError(t, err)
		out := map[int]float64{}
		for i, w := range got {
			require.True(t, i == 0 || w.At.After(got[i-1].At), "each hour once, in order")
			require.Equal(t, 40.0, *w.HumidityPct)
			require.Nil(t, w.RainMM)
			out[int(w.At.Sub(t0).Minutes())] = w.TempC
		}
		return out
	}
	put("forecast", -600, map[int]float64{0: 30, 60: 31, 120: 32, 240: 99})
	put("forecast", -60, map[int]float64{60: 35, 120: 36, 180: 37})
	require.Equal(t, map[int]float64{0: 30, 60: 35, 120: 36, 180: 37}, temps(time.Time{}))
	require.Equal(t, map[int]float64{0: 30, 60: 31, 120: 32}, temps(at(-300)), "as known then")
	put("forecast", -60, map[int]float64{60: 34})
	require.Equal(t, 34.0, temps(time.Time{})[60], "the same issue is replaced")
	put("observed", 70, map[int]float64{0: 28, 60: 29})
	require.Equal(t, map[int]float64{0: 28, 60: 29, 120: 36, 180: 37}, temps(time.Time{}))
	require.Equal(t, map[int]float64{0: 28, 60: 34, 120: 36, 180: 37}, temps(at(30)), "later observations are ignored")
	put("observed", 80, map[int]float64{0: 27})
	require.Equal(t, 27.0, temps(time.Time{})[0])
}

func weatherHighs(t *testing.T, open opener) {
	s := withShop(t, open)
	day := models.DateOf(t0, time.UTC)
	noon := day.At(12*60, time.UTC)
	forecast := func(issued time.Time, c float64) {
		require.NoError(t, s.PutWeather(ctx, shop, models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: issued, Hours: []models.WeatherHour{
			{At: noon, TempC: c - 3}, {At: noon.Add(3 * time.Hour), TempC: c}}}))
	}
	at12 := func(known time.Time) models.WeatherRow {
		got, err := s.Weather(ctx, shop, noon, noon.Add(time.Hour), known) // without the hottest hour
		require.NoError(t, err)
		require.Len(t, got, 1)
		return got[0]
	}
	hour := func(n int) time.Time { return noon.Add(time.Duration(n-48) * time.Hour) }
	forecast(hour(0), 30)
	require.NoError(t, s.PutWeatherHigh(ctx, shop, day, new(35.0), hour(1)))
	require.Equal(t, 32.0, at12(time.Time{}).TempC)
	require.True(t, at12(time.Time{}).ByHand)
	require.Equal(t, 27.0, at12(hour(0)).TempC, "nobody knew it then")
	forecast(hour(2), 31)
	require.Equal(t, 32.0, at12(time.Time{}).TempC, "a newer forecast does not replace it")
	require.NoError(t, s.PutWeatherHigh(ctx, shop, day, new(36.0), hour(3)))
	highs, err := s.WeatherHighs(ctx, shop, day, day.AddDays(1))
	require.NoError(t, err)
	require.Equal(t, []models.WeatherHigh{{Date: day, HighC: 36, SetAt: hour(3).UTC()}}, highs)
	require.NoError(t, s.PutWeatherHigh(ctx, shop, day, nil, hour(4)))
	require.Equal(t, 28.0, at12(time.Time{}).TempC, "as forecast again")
	require.False(t, at12(time.Time{}).ByHand)
	require.Equal(t, 33.0, at12(hour(3)).TempC, "as known then")
	highs, err = s.WeatherHighs(ctx, shop, day, day.AddDays(1))
	require.NoError(t, err)
	require.Empty(t, highs)
}

func weatherThinned(t *testing.T, open opener) {
	s := withShop(t, open)
	noon := models.DateOf(t0, time.UTC).At(12*60, time.UTC)
	for _, h := range []int{-13, -11, -5, -1, 0} {
		require.NoError(t, s.PutWeather(ctx, shop, models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: noon.Add(time.Duration(h) * time.Hour),
			Hours: []models.WeatherHour{{At: noon, TempC: float64(h)}, {At: noon.Add(time.Hour), TempC: float64(h)}}}))
	}
	require.NoError(t, s.ThinWeather(ctx, shop, noon, noon.Add(time.Hour)))
	known := func(at time.Time, h int) float64 {
		got, err := s.Weather(ctx, shop, at, at.Add(time.Minute), noon.Add(time.Duration(h)*time.Hour))
		require.NoError(t, err)
		if len(got) == 0 {
			return -99
		}
		return got[0].TempC
	}
	require.Equal(t, -13.0, known(noon, -12))
	require.Equal(t, -13.0, known(noon, -5), "only the last of the half day before noon is left")
	require.Equal(t, -1.0, known(noon, -1))
	require.Equal(t, 0.0, known(noon, 0))
	require.Equal(t, -5.0, known(noon.Add(time.Hour), -5), "other hours stay")
}

func weatherFetchState(t *testing.T, open opener) {
	s := withShop(t, open)
	got, err := s.WeatherFetch(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, models.WeatherFetch{}, got)
	for _, f := range []models.WeatherFetch{
		{From: "nws 40,-90", TriedAt: new(at(0).UTC()), SucceededAt: new(at(0).UTC()), NextAt: new(at(60).UTC()), Status: 200, ETag: `"a"`, LastModified: "Fri", Forecast: "https://example.com/x"},
		{From: "url", TriedAt: new(at(5).UTC()), NextAt: new(at(9).UTC()), Failures: 2, Problem: models.FetchTooOften, Status: 429},
	} {
		require.NoError(t, s.PutWeatherFetch(ctx, shop, f))
		got, err := s.WeatherFetch(ctx, shop)
		require.NoError(t, err)
		require.Equal(t, f, got)
	}
}

func lateCounts(t *testing.T, open opener) {
	s := withShop(t, open)
	late := func(since time.Time) []models.Date {
		days, err := s.LateDays(ctx, shop, since)
		require.NoError(t, err)
		return days
	}
	put := func(n float64, received time.Time) {
		_, err := s.PutCounts(ctx, shop, post(count("flash", 0, 15, n)), received, "", "")
		require.NoError(t, err)
	}
	put(4, at(20))
	require.Empty(t, late(time.Time{}), "received in time")
	weeks := at(0).AddDate(0, 0, 20)
	put(4, weeks)
	require.Empty(t, late(time.Time{}), "late but unchanged")
	put(5, weeks)
	require.Equal(t, []models.Date{models.DateOf(at(0), time.UTC)}, late(weeks))
	require.Empty(t, late(weeks.Add(time.Second)))
	put(6, weeks.AddDate(0, 0, 1))
	require.Len(t, late(weeks.Add(time.Second)), 1)
}

func eventsOverlap(t *testing.T, open opener) {
	s := withShop(t, open)
	fair := models.Event{From: at(0), To: at(120), Name: "fair", Factor: 1.4}
	shut := models.Event{From: at(120), To: at(180), Name: "works", Closed: true, Factor: 1, Kind: models.HolidayKind}
	require.NoError(t, s.PutEvents(ctx, shop, []models.Event{shut, fair}))
	fair.Factor, fair.Kind = 1.6, models.HolidayKind
	require.NoError(t, s.PutEvents(ctx, shop, []models.Event{fair}))
	fair.Kind = ""
	require.NoError(t, s.PutEvents(ctx, shop, []models.Event{fair}))
	for _, c := range []struct {
		from, to int
		want     []models.Event
	}{{0, 180, []models.Event{fair, shut}}, {-60, 0, nil}, {119, 120, []models.Event{fair}}, {120, 121, []models.Event{shut}}, {180, 200, nil}} {
		got, err := s.Events(ctx, shop, at(c.from), at(c.to))
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%d to %d", c.from, c.to)
	}

	require.NoError(t, s.DropEvent(ctx, shop, fair.From, fair.To, "fair"))
	require.Equal(t, models.CodeNotFound, models.CodeOf(s.DropEvent(ctx, shop, fair.From, fair.To, "fair")), "already deleted")
	left, err := s.Events(ctx, shop, at(0), at(180))
	require.NoError(t, err)
	require.Equal(t, []models.Event{shut}, left)

	off := models.OffSale{Drink: "flash", From: at(30)}
	require.NoError(t, s.PutOffSale(ctx, shop, []models.OffSale{off}))
	got, err := s.OffSale(ctx, shop, at(600), at(700))
	require.NoError(t, err)
	require.Equal(t, []models.OffSale{off}, got, "until further notice")
	off.To = new(at(90))
	require.NoError(t, s.PutOffSale(ctx, shop, []models.OffSale{off}))
	got, err = s.OffSale(ctx, shop, at(600), at(700))
	require.NoError(t, err)
	require.Empty(t, got)
	got, err = s.OffSale(ctx, shop, at(89), at(700))
	require.NoError(t, err)
	require.Equal(t, []models.OffSale{off}, got)
	require.NoError(t, s.DropOffSale(ctx, shop, "flash", at(30)))
	require.Equal(t, models.CodeNotFound, models.CodeOf(s.DropOffSale(ctx, shop, "flash", at(30))), "already deleted")
	got, err = s.OffSale(ctx, shop, at(0), at(700))
	require.NoError(t, err)
	require.Empty(t, got)
}

func outages(t *testing.T, open opener) {
	s := withShop(t, open)
	o := models.Outage{Kind: "brewer", Code: "b1", From: at(0), To: at(60)}
	a := models.Attention{From: at(0), To: at(60), Starts: 0}
	require.NoError(t, s.PutOutages(ctx, shop, []models.Outage{o, {Kind: "tank", From: at(0), To: at(30)}}))
	require.NoError(t, s.PutAttention(ctx, shop, []models.Attention{a}))
	o.To, a.Starts = at(90), 2
	require.NoError(t, s.PutOutages(ctx, shop, []models.Outage{o}))
	require.NoError(t, s.PutAttention(ctx, shop, []models.Attention{a}))
	gotO, err := s.Outages(ctx, shop, at(50), at(70))
	require.NoError(t, err)
	require.Equal(t, []models.Outage{o}, gotO)
	gotA, err := s.Attention(ctx, shop, at(50), at(70))
	require.NoError(t, err)
	require.Equal(t, []models.Attention{a}, gotA)
	o.To, a.To = o.From, a.From
	require.NoError(t, s.PutOutages(ctx, shop, []models.Outage{o}))
	require.NoError(t, s.PutAttention(ctx, shop, []models.Attention{a}))
	gotO, err = s.Outages(ctx, shop, at(0), at(90))
	require.NoError(t, err)
	require.Len(t, gotO, 1, "the tank's outage stays")
	gotA, err = s.Attention(ctx, shop, at(0), at(90))
	require.NoError(t, err)
	require.Empty(t, gotA)
}

func stockInOrder(t *testing.T, open opener) {
	s := withShop(t, open)
	c := models.StockCount{CountedAt: at(30), IceG: new(9000.0), TankL: new(55.5),
		Beverages: []models.Stock{{Beverage: "flash", G: 1200, MadeAt: at(-60)}}, Lots: []models.LotCount{{Lot: "A1", Grams: 3000, Place: "freezer"}}}
	early := models.StockCount{CountedAt: at(0), IceG: new(12000.0)}
	require.NoError(t, s.AddStockCount(ctx, shop, c, at(31)))
	require.NoError(t, s.AddStockCount(ctx, shop, c, at(33)), "resent by a screen that got no response")
	require.NoError(t, s.AddStockCount(ctx, shop, early, at(40)), "reported late")
	got, err := s.StockCounts(ctx, shop, at(0), at(31))
	require.NoError(t, err)
	require.Equal(t, []models.StockCount{early, c}, got)
	got, err = s.StockCounts(ctx, shop, at(1), at(30))
	require.NoError(t, err)
	require.Empty(t, got)

	changes := []models.StockChange{{Kind: "bought_in", IceG: new(10000.0), At: at(20)},
		{Kind: "discarded", Beverage: new("flash"), G: new(300.0), At: at(10), Reason: "past its time"}}
	require.NoError(t, s.AddStockChanges(ctx, shop, changes, at(21)))
	list, err := s.StockChanges(ctx, shop, at(0), at(60))
	require.NoError(t, err)
	require.Equal(t, []models.StockChange{changes[1], changes[0]}, list)
}

func planOf(digest string) (models.Plan, models.PlanRequest) {
	p := models.Plan{Digest: digest, ComputedAt: t0, From: "2026-07-11", Days: 2, Summary: models.Summary{Text: "Two hot days, " + digest, Batches: 3, BeverageG: 0.1 + 0.2}}
	r := models.PlanRequest{Setup: setupOf(shop), From: "2026-07-11", Days: 2, Now: t0, Seed: 7}
	return p, r
}

func planRevisions(t *testing.T, open opener) {
	s := withShop(t, open)
	p, r := planOf("d1")
	first, added, err := s.AddPlan(ctx, shop, p, r, at(1))
	require.NoError(t, err)
	require.True(t, added)
	require.Equal(t, 1, first.Revision)
	p.ComputedAt, p.Summary.Text = at(2), "computed again"
	same, added, err := s.AddPlan(ctx, shop, p, r, at(3))
	require.NoError(t, err)
	require.False(t, added)
	require.Equal(t, first, same)

	p2, r2 := planOf("d2")
	second, added, err := s.AddPlan(ctx, shop, p2, r2, at(4))
	require.NoError(t, err)
	require.True(t, added)
	require.Equal(t, 2, second.Revision)
	p3, r3 := planOf("d1")
	third, added, err := s.AddPlan(ctx, shop, p3, r3, at(5))
	require.NoError(t, err)
	require.True(t, added, "only the latest plan counts as the same request")
	require.Equal(t, 3, third.Revision)

	gotP, gotR, err := s.Plan(ctx, shop, 1)
	require.NoError(t, err)
	require.Equal(t, first, gotP)
	wantJSON, err := json.Marshal(r)
	require.NoError(t, err)
	gotJSON, err := json.Marshal(gotR)
	require.NoError(t, err)
	require.JSONEq(t, string(wantJSON), string(gotJSON))
	gotP, _, err = s.LatestPlan(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, 3, gotP.Revision)
	_, _, err = s.Plan(ctx, shop, 4)
	isCode(t, models.CodeNotFound, err)

	require.NoError(t, s.SetAside(ctx, shop, 3, at(6)))
	heads, err := s.Plans(ctx, shop, models.Page{Limit: 2})
	require.NoError(t, err)
	require.Equal(t, at(6), heads.Rows[0].SetAsideAt.UTC())
	require.Nil(t, heads.Rows[1].SetAsideAt)
	require.NoError(t, s.SetAside(ctx, shop, 3, time.Time{}))
	isCode(t, models.CodeNotFound, s.SetAside(ctx, shop, 4, at(6)))

	_, found, err := s.PlanByDigest(ctx, shop, "d2")
	require.NoError(t, err)
	require.False(t, found)
	gotP, found, err = s.PlanByDigest(ctx, shop, "d1")
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, third, gotP)

	page, err := s.Plans(ctx, shop, models.Page{Limit: 2})
	require.NoError(t, err)
	require.Len(t, page.Rows, 2)
	require.Equal(t, models.PlanHead{Revision: 3, ComputedAt: t0, StoredAt: at(5), From: "2026-07-11", Days: 2, Digest: "d1", Text: "Two hot days, d1"}, page.Rows[0])
	page, err = s.Plans(ctx, shop, models.Page{Limit: 2, Cursor: *page.Next})
	require.NoError(t, err)
	require.Len(t, page.Rows, 1)
	require.Equal(t, 1, page.Rows[0].Revision)
	require.Nil(t, page.Next)
}

func sheetOf(revision int, date models.Date, ids ...string) models.PrepSheet {
	p := models.PrepSheet{Site: shop, Date: date, Revision: revision, PublishedAt: at(revision), Changes: []string{}, Cautions: []string{"hot"}}
	for i, id := range ids {
		p.Tasks = append(p.Tasks, models.Task{ID: id, At: at(60 + i), Station: "b1", Kind: models.TaskBrew, Say: fmt.Sprintf("brew %s, revision %d", id, revision), State: models.Due})
	}
	return p
}

func sheetsReplaced(t *testing.T, open opener) {
	s := withShop(t, open)
	require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{sheetOf(1, "2026-07-11", "a", "b"), sheetOf(1, "2026-07-12", "c")}))
	mark(t, s, "a", models.Started, "m1", true)
	require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{sheetOf(2, "2026-07-11", "a", "d")}))

	got, err := s.Sheet(ctx, shop, "2026-07-11")
	require.NoError(t, err)
	require.Equal(t, 2, got.Revision)
	require.Equal(t, []string{"hot"}, got.Cautions)
	require.Len(t, got.Tasks, 2)
	require.Equal(t, models.Started, got.Tasks[0].State, "the new sheet keeps the state")
	require.Equal(t, models.Due, got.Tasks[1].State)

	site, date, task, replaced, err := s.Task(ctx, "a")
	require.NoError(t, err)
	require.Equal(t, shop, site)
	require.Equal(t, models.Date("2026-07-11"), date)
	require.False(t, replaced)
	require.Equal(t, "brew a, revision 2", task.Say)
	require.Equal(t, models.Started, task.State)
	_, _, task, replaced, err = s.Task(ctx, "b")
	require.NoError(t, err)
	require.True(t, replaced)
	require.Equal(t, "brew b, revision 1", task.Say)
	mark(t, s, "b", models.Made, "m2", true)
	_, _, task, _, err = s.Task(ctx, "b")
	require.NoError(t, err)
	require.Equal(t, models.Made, task.State, "a mark on a replaced task is kept")

	list, err := s.Sheets(ctx, shop, "2026-07-11", "2026-07-13")
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, models.Date("2026-07-12"), list[1].Date)
	dropped, err := s.DroppedTasks(ctx, shop, "2026-07-11", "2026-07-13")
	require.NoError(t, err)
	require.Len(t, dropped, 1, "only b: a is still on the sheet, and c's sheet was not replaced")
	require.Equal(t, "b", dropped[0].ID)
	require.Equal(t, 2, dropped[0].Revision, "of the sheet that dropped it")
	require.Equal(t, got.PublishedAt.UTC(), dropped[0].PublishedAt.UTC())
	dropped, err = s.DroppedTasks(ctx, shop, "2026-07-12", "2026-07-13")
	require.NoError(t, err)
	require.Empty(t, dropped)
	list, err = s.Sheets(ctx, shop, "2026-07-12", "2026-07-12")
	require.NoError(t, err)
	require.Empty(t, list)
	// Publishing an older revision again makes it the current one.
	require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{sheetOf(1, "2026-07-11", "a", "b")}))
	_, _, _, replaced, err = s.Task(ctx, "b")
	require.NoError(t, err)
	require.False(t, replaced)
}

func mark(t testing.TB, s models.Store, task, state, key string, added bool) {
	t.Helper()
	got, err := s.AddMark(ctx, shop, models.TaskMark{Task: task, State: state, At: at(61), Key: key, BeverageG: new(1000.0), Reason: "spilt"}, at(62))
	require.NoError(t, err)
	require.Equal(t, added, got)
}

func marksAreOnce(t *testing.T, open opener) {
	s := withShop(t, open)
	require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{sheetOf(1, "2026-07-11", "a", "b")}))
	state := func() string {
		_, _, task, _, err := s.Task(ctx, "a")
		require.NoError(t, err)
		return task.State
	}
	steps := []struct {
		state, key string
		added      bool
		want       string
	}{{models.Started, "1", true, models.Started}, {models.Made, "2", true, models.Made}, {models.Made, "2", false, models.Made},
		{models.Due, "3", true, models.Started}, {models.Due, "3", false, models.Started}, {models.Due, "4", true, models.Due},
		{models.Due, "5", true, models.Due}, {models.Skipped, "6", true, models.Skipped}}
	for _, st := range steps {
		mark(t, s, "a", st.state, st.key, st.added)
		require.Equal(t, st.want, state(), "after %s", st.key)
	}
	mark(t, s, "b", models.Made, "1", true) // keys are per task
	list, err := s.Marks(ctx, shop, "2026-07-11", "2026-07-12")
	require.NoError(t, err)
	require.Len(t, list, 7)
	require.Equal(t, models.TaskMark{Task: "a", State: models.Started, At: at(61), Key: "1", BeverageG: new(1000.0), Reason: "spilt"}, list[0])
	require.Equal(t, "b", list[6].Task)
	list, err = s.Marks(ctx, shop, "2026-07-12", "2026-07-20")
	require.NoError(t, err)
	require.Empty(t, list)
}

func taskOfAnotherSite(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("annex"), "", t0)
	require.NoError(t, err)
	require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{sheetOf(1, "2026-07-11", "a")}))
	isCode(t, models.CodeConflict, s.PutSheets(ctx, "annex", []models.PrepSheet{sheetOf(1, "2026-07-11", "z", "a")}))
	_, err = s.Sheet(ctx, "annex", "2026-07-11")
	isCode(t, models.CodeNotFound, err)
	_, _, _, _, err = s.Task(ctx, "z")
	isCode(t, models.CodeNotFound, err)
	_, err = s.AddMark(ctx, "annex", models.TaskMark{Task: "a", State: models.Made, Key: "k"}, t0)
	isCode(t, models.CodeNotFound, err)
}

func warningsSync(t *testing.T, open opener) {
	s := withShop(t, open)
	warn := func(kind, key string, amount float64) models.OpenWarning {
		return models.OpenWarning{Key: key, Revision: 4, Warning: models.Warning{Kind: kind, Grade: models.GradeActToday, At: at(60), Amount: amount, Unit: "g",
			Cause: "the maker yields less", Fields: []string{"ice.makers.0"}}}
	}
	kinds := []string{models.WarnIceShort, models.WarnBeverageShort}
	sync := func(min int, now ...models.OpenWarning) []models.OpenWarning {
		opened, err := s.SyncWarnings(ctx, shop, kinds, now, at(min))
		require.NoError(t, err)
		return opened
	}
	opened := sync(0, warn(models.WarnIceShort, "ice", 100), warn(models.WarnSalesSilent, "till", 0))
	require.Len(t, opened, 2)
	require.NotEmpty(t, opened[0].ID)
	require.Empty(t, sync(5, warn(models.WarnIceShort, "ice", 250)), "opened once")

	list, err := s.OpenWarnings(ctx, shop)
	require.NoError(t, err)
	require.Len(t, list, 2, "other kinds stay open")
	require.Equal(t, opened[0].ID, list[0].ID)
	require.Equal(t, 250.0, list[0].Amount)
	require.Equal(t, at(0), list[0].OpenedAt)
	require.Equal(t, at(5), list[0].SeenAt)

	acked, err := s.AckWarning(ctx, shop, opened[0].ID, "Ada", at(6))
	require.NoError(t, err)
	require.Equal(t, "Ada", acked.AckedBy)
	require.Equal(t, at(6), *acked.AckedAt)
	acked, err = s.AckWarning(ctx, shop, opened[0].ID, "Ben", at(7))
	require.NoError(t, err)
	require.Equal(t, "Ada", acked.AckedBy, "the first acknowledgement is kept")

	require.Empty(t, sync(10))
	list, err = s.OpenWarnings(ctx, shop)
	require.NoError(t, err)
	require.Len(t, list, 1)
	again := sync(15, warn(models.WarnIceShort, "ice", 90))
	require.Len(t, again, 1)
	require.NotEqual(t, opened[0].ID, again[0].ID)
	require.Nil(t, again[0].AckedAt)
}

func liveEvents(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("annex"), "", t0)
	require.NoError(t, err)
	closed := func(c <-chan struct{}) bool {
		select {
		case <-c:
			return true
		default:
			return false
		}
	}
	mine, other := s.Changed(shop), s.Changed("annex")
	boom := errors.New("boom")
	require.ErrorIs(t, s.Within(ctx, func(tx models.Store) error {
		_, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "plan", At: t0})
		require.NoError(t, err)
		return boom
	}), boom)
	require.False(t, closed(mine), "nothing was committed")
	require.NoError(t, s.Within(ctx, func(tx models.Store) error {
		for range 3 {
			_, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "plan", At: t0, Data: json.RawMessage(`{"revision":1}`)})
			require.NoError(t, err)
		}
		require.ErrorIs(t, tx.Within(ctx, func(nested models.Store) error {
			_, err := nested.AddEvent(ctx, models.LiveEvent{Site: "annex", Kind: "plan", At: t0})
			require.NoError(t, err)
			return boom
		}), boom)
		require.False(t, closed(mine), "not before the commit")
		return nil
	}))
	require.True(t, closed(mine))
	require.False(t, closed(other), "the other site's event was rolled back")
	require.False(t, closed(s.Changed(shop)))

	got, err := s.EventsAfter(ctx, shop, 1, 10)
	require.NoError(t, err)
	require.Equal(t, []models.LiveEvent{{ID: 2, Site: shop, Kind: "plan", At: t0, Data: json.RawMessage(`{"revision":1}`)},
		{ID: 3, Site: shop, Kind: "plan", At: t0, Data: json.RawMessage(`{"revision":1}`)}}, got)
	id, err := s.AddEvent(ctx, models.LiveEvent{Site: "annex", Kind: "mark", At: t0})
	require.NoError(t, err)
	require.EqualValues(t, 1, id, "IDs are per site")
	require.True(t, closed(other))
	last, err := s.LastEventID(ctx, shop)
	require.NoError(t, err)
	require.EqualValues(t, 3, last)
}

func transactions(t *testing.T, open opener) {
	s := withShop(t, open)
	boom := errors.New("boom")
	err := s.Within(ctx, func(tx models.Store) error {
		putCounts(t, tx, post(count("flash", 0, 15, 1)))
		require.NoError(t, tx.PutExpectedDemand(ctx, shop, []models.ExpectedDemand{{Date: "2026-07-11", DayPart: "noon", Drink: "flash", Expected: new(1.0)}}, t0))
		added, err := tx.Enqueue(ctx, models.Job{Kind: "watch", Site: shop, Key: "1"})
		require.NoError(t, err)
		require.True(t, added)
		return boom
	})
	require.ErrorIs(t, err, boom)
	require.Panics(t, func() {
		_ = s.Within(ctx, func(tx models.Store) error {
			putCounts(t, tx, post(count("flash", 0, 15, 1)))
			panic("no")
		})
	})
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Empty(t, got.Rows)
	demand, err := s.ExpectedDemand(ctx, shop, "2026-07-11", "2026-07-12")
	require.NoError(t, err)
	require.Empty(t, demand)

	require.NoError(t, s.Within(ctx, func(tx models.Store) error {
		putCounts(t, tx, post(count("flash", 0, 15, 1)))
		require.ErrorIs(t, tx.Within(ctx, func(nested models.Store) error {
			putCounts(t, nested, post(count("flash", 15, 30, 1)))
			return boom
		}), boom)
		got, err := tx.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
		require.NoError(t, err)
		require.Len(t, got.Rows, 1, "it sees its own writes")
		added, err := tx.Enqueue(ctx, models.Job{Kind: "watch", Site: shop, Key: "1"})
		require.NoError(t, err)
		require.True(t, added, "the earlier job was rolled back")
		return nil
	}))
	got, err = s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)

	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	require.Error(t, s.Within(cancelled, func(models.Store) error { return nil }))
}

func snapshots(t *testing.T, open opener) {
	s := withShop(t, open)
	putCounts(t, s, post(count("flash", 0, 15, 1)))
	require.NoError(t, s.Read(ctx, func(tx models.Store) error {
		one := func() int {
			got, err := tx.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
			require.NoError(t, err)
			return len(got.Rows)
		}
		require.Equal(t, 1, one())
		putCounts(t, s, post(count("flash", 15, 30, 1))) // outside the transaction
		require.Equal(t, 1, one(), "the snapshot is unchanged")
		require.NoError(t, tx.Read(ctx, func(models.Store) error { return nil }))
		require.Error(t, tx.PutMappings(ctx, shop, nil))
		_, err := tx.Enqueue(ctx, models.Job{Kind: "watch", Site: shop, Key: "1"})
		require.Error(t, err)
		return nil
	}))
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 2)
	require.NoError(t, s.Ready(ctx))
}

func tokens(t *testing.T, open opener) {
	s := withShop(t, open)
	want, secret, err := s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeSales, models.ScopeRead}, Site: shop}, t0)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(secret), 43)
	_, other, err := s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeManage}}, t0)
	require.NoError(t, err)
	require.NotEqual(t, secret, other)

	got, err := s.TokenBySecret(ctx, secret, at(1))
	require.NoError(t, err)
	require.Equal(t, at(1), *got.UsedAt)
	got.UsedAt = nil
	require.Equal(t, want, got)
	got, err = s.TokenBySecret(ctx, secret, at(2))
	require.NoError(t, err)
	require.Equal(t, at(1), *got.UsedAt, "not every use is recorded")
	got, err = s.TokenBySecret(ctx, secret, at(60))
	require.NoError(t, err)
	require.Equal(t, at(60), *got.UsedAt)
	for _, wrong := range []string{"", secret[:len(secret)-1], secret + "A", want.ID} {
		_, err := s.TokenBySecret(ctx, wrong, t0)
		isCode(t, models.CodeUnauthorised, err)
	}
	require.NoError(t, s.RevokeToken(ctx, want.ID, at(90)))
	require.NoError(t, s.RevokeToken(ctx, want.ID, at(95)))
	_, err = s.TokenBySecret(ctx, secret, at(91))
	isCode(t, models.CodeUnauthorised, err)
	got, err = s.TokenByID(ctx, want.ID)
	require.NoError(t, err)
	require.Equal(t, at(90), *got.RevokedAt)
	list, err := s.Tokens(ctx)
	require.NoError(t, err)
	require.Len(t, list, 2)
	doc, err := json.Marshal(list)
	require.NoError(t, err)
	require.False(t, bytes.Contains(doc, []byte(secret)))
}

func sessions(t *testing.T, open opener) {
	now := t0
	s := open(t, store.WithClock(func() time.Time { return now }))
	require.NoError(t, s.CommitCtx(ctx, "secret-1", []byte("one"), at(10)))
	require.NoError(t, s.CommitCtx(ctx, "secret-1", []byte("two"), at(20)))
	require.NoError(t, s.CommitCtx(ctx, "secret-2", nil, at(30)))
	data, found, err := s.FindCtx(ctx, "secret-1")
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, "two", string(data))
	now = at(20)
	_, found, err = s.FindCtx(ctx, "secret-1")
	require.NoError(t, err)
	require.False(t, found)
	_, found, err = s.FindCtx(ctx, "secret-2")
	require.NoError(t, err)
	require.True(t, found)
	require.NoError(t, s.CommitCtx(ctx, "secret-3", []byte("x"), at(40)))
	now = t0
	_, found, err = s.FindCtx(ctx, "secret-1")
	require.NoError(t, err)
	require.False(t, found, "expired sessions are removed")
	require.NoError(t, s.DeleteCtx(ctx, "secret-2"))
	require.NoError(t, s.DeleteCtx(ctx, "secret-2"))
	_, found, err = s.FindCtx(ctx, "secret-2")
	require.NoError(t, err)
	require.False(t, found)
}

func concurrency(t *testing.T, open opener) {
	s := withShop(t, open)
	const writers, posts = 6, 15
	var wg sync.WaitGroup
	errs := make(chan error, 1000)
	done := make(chan struct{})
	for w := range writers {
		wg.Go(func() {
			for p := range posts {
				// Each post replaces the shared row and adds a row of its writer's.
				res, err := s.PutCounts(ctx, shop, post(count("shared", 0, 15, float64(w*posts+p+1)), count(fmt.Sprint("own", w), 15*p, 15*p+15, 1)), at(p), fmt.Sprint(w, "-", p), "h")
				if err == nil && res.New+res.Replaced+res.Unchanged != 2 {
					err = fmt.Errorf("two rows were %+v", res)
				}
				errs <- err
				_, err = s.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "stock", At: t0})
				errs <- err
			}
		})
	}
	var readers sync.WaitGroup
	for range 4 {
		readers.Go(func() {
			for {
				select {
				case <-done:
					return
				default:
				}
				errs <- s.Read(ctx, func(tx models.Store) error {
					got, err := tx.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
					if err != nil {
						return err
					}
					again, err := tx.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
					if err == nil && len(again.Rows) != len(got.Rows) {
						err = errors.New("a read transaction saw two states")
					}
					return err
				})
			}
		})
	}
	go func() {
		wg.Wait()
		close(done)
		readers.Wait()
		close(errs)
	}()
	for err := range errs {
		require.NoError(t, err)
	}
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1+writers*posts)
	last, err := s.LastEventID(ctx, shop)
	require.NoError(t, err)
	require.EqualValues(t, writers*posts, last)
}

func screens(t *testing.T, open opener) {
	s := withShop(t, open)
	p, claim, err := s.BeginPairing(ctx, t0)
	require.NoError(t, err)
	other, _, err := s.BeginPairing(ctx, t0)
	require.NoError(t, err)
	require.NotEqual(t, p.Code, other.Code)
	_, _, paired, err := s.ClaimPairing(ctx, p.ID, claim, true, at(1))
	require.NoError(t, err)
	require.False(t, paired)

	want := models.Screen{Name: "Bar", Site: shop, Stations: []string{"Left"}, PairedBy: "Ada", PairedAt: at(2)}
	_, err = s.PairScreen(ctx, "AAAAAA", want, at(2))
	isCode(t, models.CodeNotFound, err)
	want.Site = "nowhere"
	_, err = s.PairScreen(ctx, p.Code, want, at(2))
	isCode(t, models.CodeNotFound, err)
	want.Site = shop
	screen, err := s.PairScreen(ctx, p.Code, want, at(2))
	require.NoError(t, err)
	want.ID = screen.ID
	require.Equal(t, want, screen)
	_, err = s.PairScreen(ctx, p.Code, want, at(2))
	isCode(t, models.CodeNotFound, err)

	_, _, _, err = s.ClaimPairing(ctx, p.ID, claim+"x", true, at(3))
	isCode(t, models.CodeNotFound, err)
	got, secret, paired, err := s.ClaimPairing(ctx, p.ID, claim, true, at(3))
	require.NoError(t, err)
	require.True(t, paired)
	require.Equal(t, screen.ID, got.ID)
	_, _, _, err = s.ClaimPairing(ctx, p.ID, claim, true, at(3))
	isCode(t, models.CodeNotFound, err)
	token, err := s.TokenBySecret(ctx, secret, at(3))
	require.NoError(t, err)
	require.Equal(t, []string{models.ScopeKitchen}, token.Scopes)
	require.Equal(t, models.TokenScreen, token.Kind)
	require.Equal(t, shop, token.Site)

	require.NoError(t, s.TouchScreen(ctx, screen.ID, at(4)))
	require.NoError(t, s.TouchScreen(ctx, "no screen", at(4)))
	list, err := s.Screens(ctx)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, at(3), *list[0].SeenAt, "not every request is recorded")
	require.NoError(t, s.TouchScreen(ctx, screen.ID, at(8)))
	got, err = s.ChangeScreen(ctx, models.Screen{ID: screen.ID, Name: "Back", Stations: []string{"Right", "water"}})
	require.NoError(t, err)
	require.Equal(t, "Back", got.Name)
	require.Equal(t, []string{"Right", "water"}, got.Stations)
	_, err = s.ChangeScreen(ctx, models.Screen{ID: "none", Name: "Back"})
	isCode(t, models.CodeNotFound, err)
	require.NoError(t, s.RevokeToken(ctx, screen.ID, at(9)))
	got, err = s.Screen(ctx, screen.ID)
	require.NoError(t, err)
	require.Equal(t, at(8), *got.SeenAt)
	require.Equal(t, at(9), *got.RevokedAt)

	// The number of open pairings is limited; expired ones do not count.
	for range models.MaxPairings - 1 { // the other one is still open
		_, _, err = s.BeginPairing(ctx, at(1))
		require.NoError(t, err)
	}
	_, _, err = s.BeginPairing(ctx, at(1))
	isCode(t, models.CodeTooMany, err)
	_, err = s.PairScreen(ctx, other.Code, want, at(10))
	isCode(t, models.CodeNotFound, err)
	_, _, err = s.BeginPairing(ctx, at(11))
	require.NoError(t, err)
}

func calendarKeys(t *testing.T, open opener) {
	s := withShop(t, open)
	_, err := s.CalendarKey(ctx, shop)
	isCode(t, models.CodeNotFound, err)
	isCode(t, models.CodeUnauthorised, s.CheckCalendarKey(ctx, shop, "", t0))
	kept, key, err := s.PutCalendarKey(ctx, shop, "Ada", t0)
	require.NoError(t, err)
	require.Equal(t, models.CalendarKey{MadeAt: t0, MadeBy: "Ada"}, kept)
	require.NoError(t, s.CheckCalendarKey(ctx, shop, key, at(1)))
	require.NoError(t, s.CheckCalendarKey(ctx, shop, key, at(2)))
	isCode(t, models.CodeUnauthorised, s.CheckCalendarKey(ctx, shop, key+"x", at(1)))
	isCode(t, models.CodeUnauthorised, s.CheckCalendarKey(ctx, "nowhere", key, at(1)))
	kept, err = s.CalendarKey(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, at(1), *kept.UsedAt, "not every use is recorded")
	_, other, err := s.PutCalendarKey(ctx, shop, "Ben", at(3))
	require.NoError(t, err)
	isCode(t, models.CodeUnauthorised, s.CheckCalendarKey(ctx, shop, key, at(4)))
	require.NoError(t, s.CheckCalendarKey(ctx, shop, other, at(4)))
	require.NoError(t, s.DeleteCalendarKey(ctx, shop))
	require.NoError(t, s.DeleteCalendarKey(ctx, shop))
	isCode(t, models.CodeUnauthorised, s.CheckCalendarKey(ctx, shop, other, at(4)))
}
