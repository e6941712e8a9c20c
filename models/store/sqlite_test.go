package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"
	"gorm.io/gorm/logger"

	"hotday/models"
)

var (
	ctx = context.Background()
	t0  = time.Date(2026, 7, 10, 15, 0, 0, 0, time.UTC)
)

func openFile(t *testing.T, path string) *Store {
	t.Helper()
	s, err := Open(ctx, path)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func TestConnectionSettings(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	ask := func(db *sql.DB, pragma string) (v string) {
		require.NoError(t, db.QueryRow("PRAGMA "+pragma).Scan(&v))
		return v
	}
	for name, db := range map[string]*sql.DB{"writing": s.writeDB, "reading": s.readDB} {
		require.Equal(t, "wal", ask(db, "journal_mode"), name)
		require.Equal(t, "2", ask(db, "synchronous"), "%s: FULL", name)
		require.Equal(t, "1", ask(db, "foreign_keys"), name)
		require.Equal(t, "10000", ask(db, "busy_timeout"), name)
	}
	require.Equal(t, "0", ask(s.writeDB, "query_only"))
	require.Equal(t, "1", ask(s.readDB, "query_only"))
	require.Equal(t, 1, s.writeDB.Stats().MaxOpenConnections)
	require.Greater(t, s.readDB.Stats().MaxOpenConnections, 1)
	_, err := s.readDB.Exec("DELETE FROM sites")
	require.Error(t, err)

	// A write transaction takes the lock at BEGIN, so no other process can write between its reads and its writes.
	other, err := sql.Open(DriverName, strings.Replace(sqliteURI(s.dsn, "_txlock=immediate"), "_busy_timeout=10000", "_busy_timeout=1", 1))
	require.NoError(t, err)
	defer func() { require.NoError(t, other.Close()) }()
	require.NoError(t, s.within(ctx, func(*Store) error {
		_, err := other.Begin()
		require.ErrorContains(t, err, "locked")
		return nil
	}))
}

func TestEveryTableIsStrict(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	lax, err := rows[string](ctx, s, `SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0
		AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'river_%' AND name <> 'goose_db_version'`)
	require.NoError(t, err)
	require.Empty(t, lax)
}

func TestOpenErrors(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	text := filepath.Join(dir, "text.db")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("this is not a database\n", 200)), 0o600))
	for dsn, want := range map[string]string{
		"":                                    "must be a file",
		":memory:":                            "must be a file",
		"file::memory:?cache=shared":          "must be a file",
		"mysql://localhost/hotday":            "SQLite file or postgres://",
		filepath.Join(dir, "none", "shop.db"): "the database's directory",
		text:                                  "not a database",
	} {
		_, err := Open(ctx, dsn)
		require.ErrorContains(t, err, want, dsn)
	}
	odd := openFile(t, filepath.Join(dir, "ça 100%? #1&_query_only=1.db"))
	_, _, err := odd.PutSetup(ctx, models.Setup{Site: models.Site{Code: "a"}}, "", t0)
	require.NoError(t, err)
	_, err = os.Stat(odd.dsn)
	require.NoError(t, err, "the file has the requested name")
}

func TestConcurrentStarts(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	var wg sync.WaitGroup
	errs := make(chan error, 6)
	for range 6 {
		wg.Go(func() {
			s, err := Open(ctx, path)
			if err == nil {
				err = errors.Join(s.Ready(ctx), s.Close())
			}
			errs <- err
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
}

// versionData is sample data for each schema version, to be migrated to the newest.
var versionData = map[int]string{
	1: `INSERT INTO sites (code, version, last_event, max_window_ms, last_count_at) VALUES ('harbour', 1, 7, 900000, 900000);
		INSERT INTO setups (site, version, etag, setup, stored_at) VALUES ('harbour', 1, '1-x', '{"site":{"code":"harbour","name":"Café Über"}}', 1);
		INSERT INTO sales_items (id, site_id, source, item, drink) VALUES (5, 1, 'till', 'FLASH', 'flash');
		INSERT INTO sales_counts (site_id, window_start, item_id, window_end, count, received_at) VALUES (1, 0, 5, 900000, 3, 1);
		INSERT INTO sheets (id, site, date, revision, published_at, sheet) VALUES (1, 'harbour', '2026-07-11', 1, 1, '{"tasks":[{"id":"a"}]}');
		INSERT INTO tasks (id, site, date, sheet_id, task) VALUES ('a', 'harbour', '2026-07-11', 1, '{"id":"a"}');
		INSERT INTO task_marks (task, site, date, key, state, at, reason, stored_at) VALUES ('a', 'harbour', '2026-07-11', 'k', 'made', 1, '', 1);`,
	2: `INSERT INTO outages (site, from_at, kind, code, to_at) VALUES ('harbour', 0, 'brewer', 'b1', 1000);`,
	3: `INSERT INTO forecast_states (site, made_at, through, learnt, past) VALUES ('harbour', 1, '2026-07-10', x'01', x'02');`,
	4: `INSERT INTO late_days (site_id, day, changed_at) VALUES (1, 20000, 5);
		INSERT INTO events (site, from_at, to_at, name, closed, factor, kind) VALUES ('harbour', 0, 10, 'new year', 0, 1, 'holiday');`,
	5: `INSERT INTO tokens (id, hash, name, scopes, site, created_at) VALUES ('t', 'h', 'Bar', 'kitchen', 'harbour', 1);
		INSERT INTO screens (id, site, name, stations, paired_at, paired_by) VALUES ('t', 'harbour', 'Bar', '[]', 1, 'Ada');`,
	6: `INSERT INTO forecasts_said (site, date, said_at, observed, said) VALUES ('harbour', '2026-07-10', 1, 0, '[]');`,
	7: `INSERT INTO tokens (id, hash, kind, name, scopes, site, created_at) VALUES ('p', 'g', 'person', 'Ada', 'manage', '', 1);
		INSERT INTO people (id, sign_in, password, created_by) VALUES ('p', 'ada', '', 'Ben');
		INSERT INTO webhooks (id, url, events, site, secret, created_at, created_by) VALUES ('w', 'https://example.com', 'task.marked', '', 's', 1, 'Ada');`,
	8:  `INSERT INTO tasks (id, site, date, sheet_id, task) VALUES ('b', 'harbour', '2026-07-11', 1, '{"id":"b"}');`,
	9:  `INSERT INTO replays (site, replay) VALUES ('harbour', '{}');`,
	10: `INSERT INTO plans (site, revision, digest, computed_at, stored_at, from_date, days, text, set_aside_at) VALUES ('harbour', 1, 'd', 1, 1, '2026-07-11', 1, '', 2);`,
	11: `INSERT INTO task_marks (task, site, date, key, state, at, reason, temp_c, stored_at) VALUES ('a', 'harbour', '2026-07-11', 'm', 'made', 2, '', 4, 2);`,
	12: `INSERT INTO task_marks (task, site, date, key, state, at, reason, corrects, stored_at) VALUES ('a', 'harbour', '2026-07-11', 'l', 'made', 2, '', 1, 2);`,
	13: `INSERT INTO task_marks (task, site, date, key, state, at, reason, left_g, stored_at) VALUES ('a', 'harbour', '2026-07-11', 'n', 'made', 2, '', 3000, 2);`,
	14: `INSERT INTO learnt_changes (id, site, subject, change, at, by_name) VALUES ('c', 'harbour', 'retention:flash', '{}', 1, 'Ada');`,
	15: `INSERT INTO item_mappings (item_id, starts_at, date, drink, factor) VALUES (5, 900000, '2026-07-11', 'latte', 1);`,
	16: `INSERT INTO measured_brews (site, coffee, at, dose_g, brew_water_g, beverage_g, tds_pct, by_name) VALUES ('harbour', 'terrace', 1, 60, 720, 612, 1.6, 'Ada');`,
	17: `INSERT INTO weather_highs (site, date, set_at, high_c) VALUES ('harbour', '2026-07-11', 1, 36);`,
	22: `INSERT INTO sheets (id, site, date, revision, published_at, sheet) VALUES (2, 'harbour', '2026-07-12', 1, 1, '{"date":"2026-07-12","tasks":[]}');`,
	20: `UPDATE sites SET last_received_at = 2;`,
	21: `INSERT INTO tokens (id, hash, kind, name, scopes, site, created_at, sandbox) VALUES ('s', 'f', 'key', 'Integrator', 'sales', '', 1, 1);`,
	23: `UPDATE write_probe SET at = 1;`,
	18: `INSERT INTO progress (site, kind, key, step, share, say, problem, started_at, at, stop) VALUES ('harbour', 'plan', 'k', 'days', 0.5, '', '', 1, 1, 0);`,
	27: `INSERT INTO mail_addresses (person, address, confirmed_at) VALUES ('p', 'ada@example.com', 1);
		INSERT INTO mail_subscriptions (person, site, kind, token, stopped) VALUES ('p', 'harbour', 'sheet', 't', 0);`,
	40: `INSERT INTO site_groups (code, name) VALUES ('north', 'North');
		INSERT INTO site_group_members (code, site) VALUES ('north', 'harbour');
		INSERT INTO tokens (id, hash, kind, name, scopes, site, site_groups, created_at) VALUES ('g', 'e', 'key', 'Region', 'read', '/', 'north', 1);`,
	46: `INSERT INTO attempts (hash, n, last_at) VALUES ('h', 1, 1);`,
	41: `UPDATE site_states SET changes = 2 WHERE site = 'harbour';`,
	31: `INSERT INTO push_devices (id, person, site, browser, endpoint, p256dh, auth, origin, created_at) VALUES ('d', 'p', 'harbour', '', 'https://push.example/1', 'k', 'a', '', 1);
		INSERT INTO push_choices (person, site, kinds) VALUES ('p', 'harbour', 'act_now');`,
	42: `UPDATE sites SET changes = 3, watched_changes = 3, watch_again_at = 4;`,
	43: `SELECT 1;`,
}

func TestMigrationFromEveryVersionKeepsData(t *testing.T) {
	t.Parallel()
	d := sqliteDialect()
	files, err := fs.Glob(d.migrations, "*.sql")
	require.NoError(t, err)
	var versions []int
	for _, f := range files {
		version, err := goose.NumericComponent(f)
		require.NoError(t, err)
		versions = append(versions, int(version))
	}
	require.Equal(t, versions, slices.Sorted(maps.Keys(versionData)), "each version has sample data")
	for i, version := range versions {
		t.Run(fmt.Sprint(version), func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			old, err := sql.Open(DriverName, sqliteURI(path))
			require.NoError(t, err)
			p, err := goose.NewProvider(d.goose, old, d.migrations, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
			require.NoError(t, err)
			for _, v := range versions[:i+1] {
				_, err = p.UpTo(ctx, int64(v))
				require.NoError(t, err)
				_, err = old.Exec(versionData[v])
				require.NoError(t, err, "data of version %d", v)
			}
			require.NoError(t, old.Close())

			s := openFile(t, path)
			got, err := s.Counts(ctx, "harbour", models.SalesFilter{}, models.Page{})
			require.NoError(t, err)
			require.Len(t, got.Rows, 1)
			require.Equal(t, "flash", *got.Rows[0].Drink)
			sheet, err := s.Sheet(ctx, "harbour", "2026-07-11")
			require.NoError(t, err)
			require.Equal(t, models.Made, sheet.Tasks[0].State)
			out, err := s.Outages(ctx, "harbour", time.UnixMilli(0), time.UnixMilli(10))
			require.NoError(t, err)
			require.Len(t, out, min(version-1, 1))
			id, err := s.AddEvent(ctx, models.LiveEvent{Site: "harbour", Kind: "mark", At: t0})
			require.NoError(t, err)
			require.EqualValues(t, 8, id)
			named, err := s.SiteList(ctx, models.SiteFilter{Search: "cafe UBER"}, models.Page{})
			require.NoError(t, err)
			require.Equal(t, []models.SiteSummary{{Code: "harbour", Name: "Café Über"}}, named.Rows, "the name comes from the set-up")
		})
	}
}

func TestFailedMigrationIsRolledBack(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	openFile(t, path)
	d := sqliteDialect()
	broken := fstest.MapFS{"0099_broken.sql": {Data: []byte("-- +goose Up\nCREATE TABLE half (x INTEGER) STRICT;\nINSERT INTO none VALUES (1);\n")}}
	files, err := fs.Glob(d.migrations, "*.sql")
	require.NoError(t, err)
	for _, f := range files {
		data, err := fs.ReadFile(d.migrations, f)
		require.NoError(t, err)
		broken[f] = &fstest.MapFile{Data: data}
	}
	d.migrations = broken
	db, err := sql.Open(DriverName, sqliteURI(path, "_txlock=immediate"))
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	require.ErrorContains(t, migrate(ctx, d, path, db), fmt.Sprintf("migrate the schema from version %d", slices.Max(slices.Collect(maps.Keys(versionData)))))
	var n int
	require.NoError(t, db.QueryRow("SELECT COUNT(*) FROM sqlite_master WHERE name = 'half'").Scan(&n))
	require.Zero(t, n)
	openFile(t, path)
}

// recorder records the SQL that GORM runs.
type recorder struct {
	logger.Interface
	mu  sync.Mutex
	sql map[string]bool
}

func (r *recorder) Trace(_ context.Context, _ time.Time, fc func() (string, int64), _ error) {
	q, _ := fc()
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sql[q] = true
}

// scansAllowed lists the tables that may be scanned, with the reason.
var scansAllowed = map[string]string{
	"sites":  "the list of all sites",
	"tokens": "the list of all tokens",
}

func TestHotPathsUseIndexes(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	rec := &recorder{Interface: logger.Discard, sql: map[string]bool{}}
	s.write.Logger, s.db.Logger = rec, rec
	callEverything(t, s)
	require.Greater(t, len(rec.sql), 60)
	for _, q := range slices.Sorted(maps.Keys(rec.sql)) {
		word, _, _ := strings.Cut(strings.TrimSpace(q), " ")
		if word != "SELECT" && word != "UPDATE" && word != "DELETE" {
			continue
		}
		for _, step := range explain(t, s.writeDB, q) {
			if table, ok := strings.CutPrefix(step, "SCAN "); ok && table != "CONSTANT ROW" {
				name, _, _ := strings.Cut(table, " ")
				require.Contains(t, scansAllowed, name, "a scan in %s\n%s", q, step)
			}
			if strings.Contains(q, "sales_counts") && !strings.Contains(q, "GROUP BY") {
				require.NotContains(t, step, "TEMP B-TREE", "counts are read in table order: %s", q)
			}
		}
	}
}

func explain(t *testing.T, db *sql.DB, q string) []string {
	t.Helper()
	rs, err := db.Query("EXPLAIN QUERY PLAN " + q)
	require.NoError(t, err, q)
	defer func() { require.NoError(t, rs.Close()) }()
	var steps []string
	for rs.Next() {
		var id, parent, unused int
		var step string
		require.NoError(t, rs.Scan(&id, &parent, &unused, &step))
		steps = append(steps, step)
	}
	require.NoError(t, rs.Err())
	return steps
}

// callEverything calls the methods with data, to record the SQL of a shop in operation.
func callEverything(t *testing.T, s *Store) {
	t.Helper()
	const site = "harbour"
	ok := func(err error) { t.Helper(); require.NoError(t, err) }
	from, to := t0.Add(-time.Hour), t0.Add(time.Hour)
	_, _, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: site}}, "", t0)
	ok(err)
	_, _, err = s.Setup(ctx, site)
	ok(err)
	_, err = s.Sites(ctx)
	ok(err)
	_, err = s.SiteList(ctx, models.SiteFilter{Search: "a"}, models.Page{})
	ok(err)
	_, _, err = s.WatchState(ctx, site)
	ok(err)
	ok(s.PutWatched(ctx, site, models.Watched{Changes: 1, AgainAt: t0}))
	post := models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "a", WindowStart: from, WindowEnd: t0, Count: 1}, {Item: "b", WindowStart: t0, WindowEnd: to, Count: 1}}}
	_, err = s.PutCounts(ctx, site, post, t0, "k", "h")
	ok(err)
	got, err := s.Counts(ctx, site, models.SalesFilter{From: from, To: to}, models.Page{Limit: 1})
	ok(err)
	_, err = s.Counts(ctx, site, models.SalesFilter{From: from, To: to, Source: "till", Item: "a"}, models.Page{Cursor: *got.Next})
	ok(err)
	_, err = s.Counts(ctx, site, models.SalesFilter{}, models.Page{})
	ok(err)
	_, err = s.CountsReceivedAt(ctx, site)
	ok(err)
	ok(s.PutMappings(ctx, site, []models.ItemMapping{{Source: "till", Item: "a", Drink: new("flash"), Factor: 1}}))
	_, err = s.Mappings(ctx, site)
	ok(err)
	_, err = s.Unmapped(ctx, site)
	ok(err)
	ok(s.PutExpectedDemand(ctx, site, []models.ExpectedDemand{{Date: "2026-07-11", DayPart: "noon", Drink: "flash"}}, t0))
	_, err = s.ExpectedDemand(ctx, site, "2026-07-11", "2026-07-12")
	ok(err)
	for _, kind := range []string{models.WeatherForecast, models.WeatherObserved} {
		ok(s.PutWeather(ctx, site, models.WeatherPost{Kind: kind, IssuedAt: from, Hours: []models.WeatherHour{{At: t0, TempC: 30}}}))
	}
	_, err = s.Weather(ctx, site, from, to, t0)
	ok(err)
	ok(s.PutEvents(ctx, site, []models.Event{{From: from, To: to}}))
	_, err = s.Events(ctx, site, from, to)
	ok(err)
	ok(s.PutOffSale(ctx, site, []models.OffSale{{Drink: "flash", From: from}}))
	_, err = s.OffSale(ctx, site, from, to)
	ok(err)
	ok(s.PutOutages(ctx, site, []models.Outage{{Kind: "tank", From: from, To: to}, {Kind: "tank", From: from, To: from}}))
	_, err = s.Outages(ctx, site, from, to)
	ok(err)
	ok(s.PutAttention(ctx, site, []models.Attention{{From: from, To: to}, {From: from, To: from}}))
	_, err = s.Attention(ctx, site, from, to)
	ok(err)
	ok(s.AddStockCount(ctx, site, models.StockCount{CountedAt: t0}, t0))
	_, err = s.StockCounts(ctx, site, from, to)
	ok(err)
	ok(s.AddStockChanges(ctx, site, []models.StockChange{{Kind: "made", At: t0}}, t0))
	_, err = s.StockChanges(ctx, site, from, to)
	ok(err)
	for _, digest := range []string{"d1", "d2", "d2"} {
		_, _, err = s.AddPlan(ctx, site, models.Plan{Digest: digest, From: "2026-07-11"}, models.PlanRequest{From: "2026-07-11"}, t0)
		ok(err)
	}
	_, _, err = s.Plan(ctx, site, 1)
	ok(err)
	_, _, err = s.LatestPlan(ctx, site)
	ok(err)
	_, _, err = s.PlanByDigest(ctx, site, "d2")
	ok(err)
	_, err = s.Plans(ctx, site, models.Page{})
	ok(err)
	ok(s.PutSheets(ctx, site, []models.PrepSheet{{Date: "2026-07-11", Tasks: []models.Task{{ID: "a"}}}}))
	_, err = s.Sheet(ctx, site, "2026-07-11")
	ok(err)
	_, err = s.DroppedTasks(ctx, site, "2026-07-11", "2026-07-12")
	ok(err)
	_, _, _, _, err = s.Task(ctx, "a")
	ok(err)
	_, err = s.AddMark(ctx, site, models.TaskMark{Task: "a", State: models.Made, Key: "k"}, t0)
	ok(err)
	_, err = s.Marks(ctx, site, "2026-07-11", "2026-07-12")
	ok(err)
	opened, err := s.SyncWarnings(ctx, site, []string{"x"}, []models.OpenWarning{{Key: "x"}}, t0)
	ok(err)
	_, err = s.SyncWarnings(ctx, site, []string{"x"}, []models.OpenWarning{{Key: "x"}}, t0)
	ok(err)
	_, err = s.AckWarning(ctx, site, opened[0].ID, "Ada", t0)
	ok(err)
	_, err = s.SyncWarnings(ctx, site, []string{""}, nil, t0)
	ok(err)
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: site, At: t0})
	ok(err)
	_, err = s.EventsAfter(ctx, site, 0, 10)
	ok(err)
	_, err = s.LastEventID(ctx, site)
	ok(err)
	tok, secret, err := s.AddToken(ctx, models.Token{}, t0)
	ok(err)
	_, err = s.TokenBySecret(ctx, secret, t0)
	ok(err)
	_, err = s.TokenByID(ctx, tok.ID)
	ok(err)
	_, err = s.Tokens(ctx)
	ok(err)
	ok(s.RevokeToken(ctx, tok.ID, t0))
	ok(s.CommitCtx(ctx, "s", []byte("x"), to))
	_, _, err = s.FindCtx(ctx, "s")
	ok(err)
	ok(s.DeleteCtx(ctx, "s"))
}

// A paused process, or one whose work ignores cancellation, may resume after its job was given to another attempt.
func TestRescuedAttemptHasNoEffect(t *testing.T) {
	t.Parallel()
	s, err := Open(ctx, filepath.Join(t.TempDir(), "shop.db"), WithPoll(5*time.Millisecond), WithRetry(func(int) time.Duration { return time.Hour }))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	_, _, err = s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	_, err = s.Enqueue(ctx, models.Job{Kind: "replan", Site: "harbour", Key: "1"})
	require.NoError(t, err)
	started, resume := make(chan int, 2), make(chan struct{})
	var mu sync.Mutex
	n := 0
	run, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() {
		ended <- s.Run(run, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
			mu.Lock()
			n++
			attempt := n
			mu.Unlock()
			started <- attempt
			if attempt == 1 {
				<-resume
			}
			return func(tx models.Store) error {
				_, err := tx.AddEvent(ctx, models.LiveEvent{Site: "harbour", Kind: fmt.Sprint("attempt ", attempt), At: t0})
				return err
			}, nil
		}})
	}()
	require.Equal(t, 1, <-started)
	changed := s.Changed("harbour")
	_, err = s.writeDB.Exec("UPDATE river_job SET state = 'available' WHERE state = 'running'") // as the queue does with a lost job
	require.NoError(t, err)
	require.Equal(t, 2, <-started)
	<-changed
	close(resume)
	cancel()
	require.NoError(t, <-ended)
	events, err := s.EventsAfter(ctx, "harbour", 0, 10)
	require.NoError(t, err)
	require.Len(t, events, 1)
	require.Equal(t, "attempt 2", events[0].Kind)
}

func TestExpiredIdempotencyKeysAreRemoved(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	_, _, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	put := func(at time.Time, key, hash string) error {
		_, err := s.PutCounts(ctx, "harbour", models.SalesPost{Source: "till"}, at, key, hash)
		return err
	}
	require.NoError(t, put(t0, "old", "a"))
	require.NoError(t, put(t0.Add(10*24*time.Hour), "young", "a"))
	s.posts.Store(pruneEvery)
	require.NoError(t, put(t0.Add(20*24*time.Hour), "new", "a"))
	require.NoError(t, put(t0.Add(20*24*time.Hour), "old", "b"), "the expired key can be reused")
	require.Equal(t, models.CodeConflict, models.CodeOf(put(t0.Add(20*24*time.Hour), "young", "b")))
}

func TestTwoStoresWriteToOneFile(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	one, two := openFile(t, path), openFile(t, path)
	_, _, err := one.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	var wg sync.WaitGroup
	errs := make(chan error, 200)
	for i, s := range []*Store{one, two} {
		wg.Go(func() {
			for n := range 50 {
				from := t0.Add(time.Duration(n) * time.Hour)
				_, err := s.PutCounts(ctx, "harbour", models.SalesPost{Source: fmt.Sprint("till ", i), Counts: []models.SalesCount{{Item: "a", WindowStart: from, WindowEnd: from.Add(time.Hour), Count: 1}}}, t0, "", "")
				errs <- err
				_, err = s.AddEvent(ctx, models.LiveEvent{Site: "harbour", At: t0})
				errs <- err
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	got, err := two.Counts(ctx, "harbour", models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 100)
	last, err := one.LastEventID(ctx, "harbour")
	require.NoError(t, err)
	require.EqualValues(t, 100, last)
}
