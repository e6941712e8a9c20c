package store_test

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/models/store/pgtest"
)

// filledShop makes a file with something of everything, and returns its name and the secret of an access key.
func filledShop(t *testing.T) (file, secret string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "shop.db")
	s, err := store.Open(ctx, file)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	_, _, err = s.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	for n := range 700 {
		putCounts(t, s, post(count(fmt.Sprint("drink ", n%7), 15*n, 15*n+15, float64(n)/3)))
	}
	require.NoError(t, s.PutEvents(ctx, shop, []models.Event{{From: at(0), To: at(60), Name: "Straßenfest 🎉", Closed: true, Factor: 1.5}}))
	high := 36.5
	require.NoError(t, s.PutWeatherHigh(ctx, shop, "2026-07-11", &high, t0))
	_, _, err = s.AddPlan(ctx, shop, models.Plan{Digest: "d1", ComputedAt: t0, From: "2026-07-11", Days: 1}, models.PlanRequest{}, t0)
	require.NoError(t, err)
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "mark", At: t0, Data: json.RawMessage(`{"a":1}`)})
	require.NoError(t, err)
	require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ada", Action: "set-up.change", Subject: shop, Site: shop}))
	_, secret, err = s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeSales}, Site: shop, Sandbox: true}, t0)
	require.NoError(t, err)
	_, _, err = s.PushKey(ctx, t0)
	require.NoError(t, err)
	require.NoError(t, s.Commit("session", []byte{0, 1, 255}, time.Now().Add(time.Hour)))
	enqueue(t, s, models.JobPublish, "done")
	end := running(t, s, map[string]models.Work{models.JobPublish: adds("plan")})
	waitForEvents(t, s, 2)
	end()
	_, err = s.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "waits", Args: json.RawMessage(`{"n":12345678901234567}`), RunAt: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	return file, secret
}

func TestACopyOnPostgreSQLGoesOnWhereTheFileStopped(t *testing.T) {
	t.Parallel()
	file, secret := filledShop(t)
	dsn := pgtest.Empty(t)
	tables, err := store.Copy(ctx, file, dsn)
	require.NoError(t, err)
	rows := map[string]int64{}
	for _, x := range tables {
		rows[x.Name] = x.Rows
	}
	require.EqualValues(t, 700, rows["sales_counts"])
	require.EqualValues(t, 2, rows["river_job"]-1, "with the one that releases lost jobs")
	require.EqualValues(t, 2, rows["live_events"])

	lite := openAt(t, file)
	server := openAt(t, dsn, store.WithSecretFile(file+".key"), store.WithPoll(5*time.Millisecond))
	for name, read := range map[string]func(*store.Store) (any, error){
		"counts": func(s *store.Store) (any, error) {
			return s.Counts(ctx, shop, models.SalesFilter{}, models.Page{Limit: 1000})
		},
		"events":  func(s *store.Store) (any, error) { return s.Events(ctx, shop, at(0), at(1)) },
		"highs":   func(s *store.Store) (any, error) { return s.WeatherHighs(ctx, shop, "2026-07-01", "2026-08-01") },
		"audit":   func(s *store.Store) (any, error) { return s.Audit(ctx, []string{shop}, models.Page{}) },
		"tokens":  func(s *store.Store) (any, error) { return s.Tokens(ctx) },
		"live":    func(s *store.Store) (any, error) { return s.EventsAfter(ctx, shop, 0, 100) },
		"push":    func(s *store.Store) (any, error) { a, b, err := s.PushKey(ctx, t0); return a + b, err },
		"session": func(s *store.Store) (any, error) { data, _, err := s.Find("session"); return data, err },
		"plan":    func(s *store.Store) (any, error) { p, _, err := s.PlanByDigest(ctx, shop, "d1"); return p, err },
	} {
		want, err := read(lite)
		require.NoError(t, err, name)
		got, err := read(server)
		require.NoError(t, err, name)
		require.Equal(t, want, got, name)
	}
	_, err = server.TokenBySecret(ctx, secret, t0)
	require.NoError(t, err)

	added, err := server.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "done"})
	require.NoError(t, err)
	require.False(t, added, "it was done before the copy")
	added, err = server.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "waits"})
	require.NoError(t, err)
	require.False(t, added, "it waits")
	enqueue(t, server, models.JobPublish, "new")
	require.NoError(t, server.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ada", Action: "set-up.change", Subject: shop, Site: shop}))
	running(t, server, map[string]models.Work{models.JobPublish: adds("plan")})
	waitForEvents(t, server, 3)

	_, err = store.Copy(ctx, file, dsn)
	require.ErrorContains(t, err, "not empty")
}

func TestACopyThatDiffersIsReportedAndNotKept(t *testing.T) {
	t.Parallel()
	file, _ := filledShop(t)
	dsn := newPostgres(t)
	raw, err := sql.Open("pgx", dsn)
	require.NoError(t, err)
	defer raw.Close()
	for _, statement := range []string{
		`CREATE FUNCTION spoil() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN NEW.count := NEW.count + 1e-9; RETURN NEW; END $$`,
		`CREATE TRIGGER spoil BEFORE INSERT ON sales_counts FOR EACH ROW WHEN (NEW.count = 7) EXECUTE FUNCTION spoil()`,
	} {
		_, err := raw.ExecContext(ctx, statement)
		require.NoError(t, err)
	}
	_, err = store.Copy(ctx, file, dsn)
	require.ErrorContains(t, err, "table sales_counts: what was stored differs from the file: 700 rows")
	var sites int
	require.NoError(t, raw.QueryRowContext(ctx, "SELECT COUNT(*) FROM sites").Scan(&sites))
	require.Zero(t, sites)
}

func TestACopyNeedsAFileThatNobodyUses(t *testing.T) {
	t.Parallel()
	_, err := store.Copy(ctx, "postgres://a/b", "postgres://a/c")
	require.ErrorContains(t, err, "expected an SQLite file to copy from")
	file := filepath.Join(t.TempDir(), "shop.db")
	_, err = store.Copy(ctx, file, pgtest.Empty(t))
	require.ErrorContains(t, err, "no such file")
	busy := openAt(t, file)
	end := running(t, busy, map[string]models.Work{})
	_, err = store.Copy(ctx, file, pgtest.Empty(t))
	require.ErrorContains(t, err, "stop it first")
	end()
}
