package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/models/store/pgtest"
)

func TestBothDatabasesHaveTheSameTables(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "shop.db")
	openAt(t, file)
	columns := func(driver, dsn, query string) []string {
		db, err := sql.Open(driver, dsn)
		require.NoError(t, err)
		defer db.Close()
		rs, err := db.QueryContext(ctx, query)
		require.NoError(t, err)
		defer rs.Close()
		var list []string
		for rs.Next() {
			var table, column, kind string
			var required bool
			require.NoError(t, rs.Scan(&table, &column, &kind, &required))
			kind = map[string]string{"bigint": "INTEGER", "boolean": "INTEGER", "double precision": "REAL", "bytea": "BLOB", "text": "TEXT"}[kind] + strings.TrimLeft(kind, "abcdefghijklmnopqrstuvwxyz ")
			list = append(list, fmt.Sprint(table, ".", column, " ", kind, " ", required))
		}
		require.NoError(t, rs.Err())
		slices.Sort(list)
		return list
	}
	lite := columns(store.DriverName, "file:"+file, `SELECT t.name, c.name, c.type, c."notnull" OR c.pk > 0 FROM pragma_table_list t, pragma_table_info(t.name) c
		WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite_%' AND t.name NOT LIKE 'river_%' AND t.name NOT LIKE 'goose_%'`)
	server := columns("pgx", newPostgres(t), `SELECT table_name, column_name, data_type, is_nullable = 'NO' FROM information_schema.columns
		WHERE table_schema = 'public' AND table_name NOT LIKE 'river_%' AND table_name NOT LIKE 'goose_%'`)
	require.Equal(t, lite, server)
	require.Greater(t, len(lite), 300)
}

func TestAnEventWakesThoseWhoWaitOnOtherReplicas(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	one, two := openAt(t, dsn), openAt(t, dsn)
	_, _, err := one.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	var slowest time.Duration
	for n := range int64(20) {
		changed := two.Changed(shop)
		began := time.Now()
		_, err := one.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "mark", At: t0})
		require.NoError(t, err)
		receive(t, changed)
		slowest = max(slowest, time.Since(began))
		last, err := two.LastEventID(ctx, shop)
		require.NoError(t, err)
		require.Equal(t, n+1, last)
	}
	t.Logf("the slowest of 20 took %v from the call to the other replica", slowest)
}

func TestEventsWakeReplicasAfterTheirConnectionWasCut(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	one, two := openAt(t, dsn), openAt(t, dsn)
	_, _, err := one.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	changed := two.Changed(shop)
	raw, err := sql.Open("pgx", dsn)
	require.NoError(t, err)
	defer raw.Close()
	cut, err := raw.ExecContext(ctx, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE query LIKE 'LISTEN%' AND datname = current_database()")
	require.NoError(t, err)
	n, err := cut.RowsAffected()
	require.NoError(t, err)
	require.EqualValues(t, 2, n)
	_, err = one.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "mark", At: t0}) // while nobody listens
	require.NoError(t, err)
	receive(t, changed)
	changed = two.Changed(shop)
	_, err = one.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "mark", At: t0})
	require.NoError(t, err)
	receive(t, changed)
}

func TestJobsOfAReplicaThatIsGoneGoOnElsewhere(t *testing.T) {
	t.Parallel()
	d := drivenPostgres(t)
	enqueue(t, d.Store, models.JobPublish, "lost")
	enqueue(t, d.Store, models.JobPublish, "held")
	started, proceed := make(chan struct{}), make(chan struct{})
	slow := map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "held" {
			close(started)
			<-proceed
		}
		return func(tx models.Store) error { return event(tx, j.Key) }, nil
	}}
	d.exec(`UPDATE river_job SET state = 'running', attempt = 1, attempted_at = ?, attempted_by = ARRAY['a replica that died'] WHERE args ->> 'key' = 'lost'`, d.ago(0))
	other := d.open()
	running(t, other, slow) // it is there and holds one
	receive(t, started)
	running(t, d.Store, slow)
	d.until("completed", stateOf, "lost")
	require.Equal(t, "running", d.one(stateOf, "held"), "its replica is there")
	require.Equal(t, "1", d.one(`SELECT attempt FROM river_job WHERE args ->> 'key' = 'held'`))
	close(proceed)
	d.until("completed", stateOf, "held")
	waitForEvents(t, d.Store, 2)
}

func TestReplicasChangeASiteOneAfterAnother(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	stores := []*store.Store{openAt(t, dsn), openAt(t, dsn), openAt(t, dsn)}
	_, _, err := stores[0].PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	const each = 25
	var wg sync.WaitGroup
	for i, s := range stores {
		wg.Go(func() {
			for n := range each {
				_, err := s.PutCounts(ctx, shop, post(count(fmt.Sprint("drink ", n), 0, 15, 1)), t0, fmt.Sprint("key ", n), fmt.Sprint("body ", n))
				if err != nil {
					t.Error(err)
				}
				// Reads, then writes what follows from it.
				if err := s.Within(ctx, func(tx models.Store) error {
					setup, etag, err := tx.Setup(ctx, shop)
					if err != nil {
						return err
					}
					setup.Site.Name = fmt.Sprint("shop of ", i, " ", n)
					_, _, err = tx.PutSetup(ctx, setup, etag, t0)
					return err
				}); err != nil {
					t.Error(err)
				}
				if _, err := s.Enqueue(ctx, models.Job{Kind: models.JobWatch, Site: shop}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	got, err := stores[0].Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, each)
	versions, err := stores[0].SetupVersions(ctx, shop, 1)
	require.NoError(t, err)
	require.Equal(t, 1+each*len(stores), versions[0].Version, "no change was lost")
	require.Equal(t, 1, waiting(t, stores[0]), "one check waits")
}

func TestTwoReplicasCreateASiteAndASignInNameOnce(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	stores := []*store.Store{openAt(t, dsn), openAt(t, dsn)}
	outcomes := map[models.Code]int{}
	var mu sync.Mutex
	var wg sync.WaitGroup
	for _, s := range stores {
		for range 5 {
			wg.Go(func() {
				_, _, site := s.PutSetup(ctx, setupOf(shop), "", t0)
				_, _, person := s.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada@example.com", Scopes: []string{models.ScopeManage}}, t0)
				mu.Lock()
				defer mu.Unlock()
				for _, err := range []error{site, person} {
					if err == nil {
						outcomes[""]++
					} else {
						outcomes[models.CodeOf(err)]++
					}
				}
			})
		}
	}
	wg.Wait()
	require.Equal(t, map[models.Code]int{"": 2, models.CodeNeedsMatch: 9, models.CodeConflict: 9}, outcomes)
}

func TestAnAttemptOnOneReplicaWaitsForThoseBeingCountedOnAnother(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	one, two := openAt(t, dsn), openAt(t, dsn)
	raw, err := sql.Open("pgx", dsn)
	require.NoError(t, err)
	defer raw.Close()
	var wait time.Duration
	counted := make(chan error, 1)
	require.NoError(t, one.Within(ctx, func(tx models.Store) error {
		for range 5 {
			if _, err := tx.(models.AttemptStore).CountAttempt(ctx, "name ada", t0); err != nil {
				return err
			}
		}
		go func() {
			var err error
			wait, err = two.CountAttempt(ctx, "name ada", t0)
			counted <- err
		}()
		waits := 0
		for waits == 0 && len(counted) == 0 { // until it stands behind this transaction
			if err := raw.QueryRowContext(ctx, "SELECT COUNT(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'").Scan(&waits); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, receive(t, counted))
	require.Equal(t, time.Second, wait, "it is the sixth")
}

func TestADeadlockAsksToTryAgain(t *testing.T) {
	t.Parallel()
	s := openPostgres(t)
	for _, code := range []string{"one", "two"} {
		_, _, err := s.PutSetup(ctx, setupOf(code), "", t0)
		require.NoError(t, err)
	}
	var both sync.WaitGroup
	both.Add(2)
	errs := make(chan error, 2)
	for _, order := range [][]string{{"one", "two"}, {"two", "one"}} {
		go func() {
			errs <- s.Within(ctx, func(tx models.Store) error {
				_, _, err := tx.Setup(ctx, order[0])
				both.Done()
				both.Wait()
				if err == nil {
					_, _, err = tx.Setup(ctx, order[1])
				}
				return err
			})
		}()
	}
	a, b := receive(t, errs), receive(t, errs)
	if a == nil {
		a, b = b, a
	}
	isCode(t, models.CodeStorage, a)
	require.Contains(t, a.Error(), "try again")
	require.NoError(t, b)
	require.Empty(t, s.StorageState().Problem, "it is over")
}

func TestADatabaseThatCannotBeReachedIsNamedWithoutItsPassword(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, err := store.Open(ctx, "postgres://hotday:tiger@/shop?host="+dir+"&password=lion")
	require.ErrorContains(t, err, "open the database postgres://hotday:xxxxx@/shop")
	require.NotContains(t, err.Error(), "tiger")
	require.NotContains(t, err.Error(), "lion")
	_, err = store.Open(ctx, "mysql://shop")
	require.ErrorContains(t, err, "--db takes the path of an SQLite file or postgres://user@host/database, not mysql://…")
}

func TestCheckOfAServerReportsWhatHotdayCanKnow(t *testing.T) {
	t.Parallel()
	dsn := newPostgres(t)
	findings, err := store.Check(ctx, dsn, "")
	require.NoError(t, err)
	levels := map[string]string{}
	for _, f := range findings {
		levels[f.Subject] = f.Level
	}
	require.Equal(t, map[string]string{"server": store.FindingFault, "schema": store.FindingOK, "secrets": store.FindingOK, "size": store.FindingOK}, levels, "%v", findings)
	require.Contains(t, findings[0].Text, "fsync is off")

	findings, err = store.Check(ctx, pgtest.Empty(t), "")
	require.NoError(t, err)
	require.Equal(t, store.FindingFault, findings[1].Level)
	require.Contains(t, findings[1].Text, "this is not a database of hotday")

	_, err = store.Backup(ctx, dsn, filepath.Join(t.TempDir(), "b"), "test", t0)
	require.ErrorContains(t, err, "pg_dump")
	_, err = store.Restore(ctx, dsn, filepath.Join(t.TempDir(), "b"))
	require.ErrorContains(t, err, "hotday copy")
}

func TestReplicasMigrateOneAfterAnother(t *testing.T) {
	t.Parallel()
	dsn := pgtest.Empty(t)
	var wg sync.WaitGroup
	for range 3 {
		wg.Go(func() {
			s, err := store.Open(ctx, dsn)
			if err == nil {
				err = s.Close()
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
}
