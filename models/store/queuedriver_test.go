package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// TestQueueDriver covers every use that is made of River's drivers and that the conformance suites TestQueue and TestQueueLines do
// not, which cover uniqueness, priorities, retries, scheduled jobs, shutdown and the change of workers. Its rows are read, and aged, by a
// connection of the test's own.
func TestQueueDriver(t *testing.T) {
	t.Parallel()
	for name, test := range map[string]func(t *testing.T, d *driven){
		"a job queued in a transaction that is rolled back is not there":   rolledBackInsert,
		"a job is unique after it is done, but not after it was given up":  uniqueAfterTheEnd,
		"many workers and writers run each job once":                       eachJobOnce,
		"an effect that fails leaves its job to be retried":                failedEffectIsRetried,
		"a job that is cancelled at shutdown costs no attempt":             cancelledCostsNoAttempt,
		"jobs of a process that died are listed, completed and retried":    lostJobsAreRetried,
		"an attempt whose end could not be stored is given back soon":      forgottenIsRetried,
		"a job that hangs is rescued and its late effect is refused":       hungJobIsRescued,
		"a job that timed out says so to the next attempt":                 nextAttemptKnows,
		"finished jobs are removed after their time, others stay":          cleaned,
		"a worker in another process takes over and runs what is left":     takesOver,
		"a queue of before, with jobs in other lines, is worked off":       oldLines,
		"a write transaction that takes long does not stop the queue dead": longWrite,
	} {
		for database, drive := range map[string]func(*testing.T) *driven{"sqlite": drivenSQLite, "postgres": drivenPostgres} {
			t.Run(database+"/"+name, func(t *testing.T) {
				t.Parallel()
				test(t, drive(t))
			})
		}
	}
	for name, test := range map[string]func(t *testing.T, d *driven){
		"every time is stored as the queue compares them":      timesCompare,
		"what waits at a site is found by an index, among few": waitingByIndex,
	} {
		t.Run("sqlite/"+name, func(t *testing.T) {
			t.Parallel()
			test(t, drivenSQLite(t))
		})
	}
}

func drivenSQLite(t *testing.T) *driven {
	file := filepath.Join(t.TempDir(), "shop.db")
	return newDriven(t, file, store.DriverName, "file:"+file+"?_busy_timeout=10000&_txlock=immediate")
}

func drivenPostgres(t *testing.T) *driven {
	dsn := newPostgres(t)
	return newDriven(t, dsn, "pgx", dsn)
}

func newDriven(t *testing.T, dsn, driver, rawDSN string) *driven {
	d := &driven{t: t, dsn: dsn, postgres: driver == "pgx"}
	d.Store = d.open()
	raw, err := sql.Open(driver, rawDSN)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, raw.Close()) })
	d.raw = raw
	_, _, err = d.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	return d
}

// driven is a store whose queue's rows are at hand.
type driven struct {
	*store.Store
	t        *testing.T
	dsn      string
	postgres bool
	raw      *sql.DB
}

// query is a statement with ? for its arguments, as the database wants it.
func (d *driven) query(q string) string {
	for n := 1; d.postgres && strings.Contains(q, "?"); n++ {
		q = strings.Replace(q, "?", fmt.Sprintf("$%d", n), 1)
	}
	return q
}

// ago is an instant as an argument of a statement.
func (d *driven) ago(ago time.Duration) any {
	at := time.Now().UTC().Add(-ago)
	if d.postgres {
		return at
	}
	return at.Format("2006-01-02 15:04:05.000")
}

func (d *driven) open(more ...store.Option) *store.Store {
	s, err := store.Open(ctx, d.dsn, append([]store.Option{store.WithPoll(5 * time.Millisecond), store.WithGrace(20 * time.Millisecond),
		store.WithRetry(func(int) time.Duration { return time.Millisecond })}, more...)...)
	require.NoError(d.t, err)
	d.t.Cleanup(func() { require.NoError(d.t, s.Close()) })
	return s
}

func (d *driven) exec(query string, args ...any) {
	d.t.Helper()
	_, err := d.raw.ExecContext(ctx, d.query(query), args...)
	require.NoError(d.t, err)
}

// one is the only value of a query, as text.
func (d *driven) one(query string, args ...any) (text string) {
	d.t.Helper()
	require.NoError(d.t, d.raw.QueryRowContext(ctx, d.query(query), args...).Scan(&text))
	return text
}

// until waits until a query answers with a text.
func (d *driven) until(want, query string, args ...any) {
	d.t.Helper()
	limit := time.Now().Add(time.Minute)
	for d.one(query, args...) != want {
		require.True(d.t, time.Now().Before(limit), "%s is still %s", query, d.one(query, args...))
		time.Sleep(5 * time.Millisecond)
	}
}

const stateOf = `SELECT COALESCE(MAX(CAST(state AS text)), 'none') FROM river_job WHERE args ->> 'key' = ?`

func adds(kind string) models.Work {
	return func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { return event(tx, kind) }, nil
	}
}

func rolledBackInsert(t *testing.T, d *driven) {
	err := d.Within(ctx, func(tx models.Store) error {
		enqueue(t, tx, models.JobPublish, "1")
		return errors.New("the counts are wrong")
	})
	require.Error(t, err)
	require.Equal(t, "none", d.one(stateOf, "1"))
	enqueue(t, d.Store, models.JobPublish, "1")
}

func uniqueAfterTheEnd(t *testing.T, d *driven) {
	enqueue(t, d.Store, models.JobPublish, "done")
	enqueue(t, d.Store, models.JobPublish, "given up")
	d.exec(`UPDATE river_job SET attempt = 24 WHERE args ->> 'key' = 'given up'`)
	running(t, d.Store, map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "given up" {
			return nil, errors.New("the disk is slow")
		}
		return nil, nil
	}})
	d.until("completed", stateOf, "done")
	d.until("discarded", stateOf, "given up")
	added, err := d.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "done"})
	require.NoError(t, err)
	require.False(t, added)
	added, err = d.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "given up"})
	require.NoError(t, err)
	require.True(t, added)
}

func eachJobOnce(t *testing.T, d *driven) {
	s := d.open(store.WithWorkers(16))
	const jobs, writers = 200, 4
	var ran [jobs]atomic.Int32
	running(t, s, map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		var n int
		if _, err := fmt.Sscan(j.Key, &n); err != nil {
			return nil, err
		}
		ran[n].Add(1)
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	errs := make(chan error, jobs*writers)
	var wg sync.WaitGroup
	for range writers {
		wg.Go(func() {
			for n := range jobs {
				_, err := d.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: fmt.Sprint(n)})
				errs <- err
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	d.until(fmt.Sprint(jobs), `SELECT COUNT(*) FROM river_job WHERE state = 'completed' AND args ->> 'what' = 'publish'`)
	for n := range ran {
		require.EqualValues(t, 1, ran[n].Load(), "job %d", n)
	}
	last, err := d.LastEventID(ctx, shop)
	require.NoError(t, err)
	require.EqualValues(t, jobs, last)
}

func failedEffectIsRetried(t *testing.T, d *driven) {
	enqueue(t, d.Store, models.JobPublish, "1")
	var tries atomic.Int32
	running(t, d.Store, map[string]models.Work{models.JobPublish: func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error {
			if err := event(tx, "plan"); err != nil || tries.Add(1) > 1 {
				return err
			}
			return errors.New("a newer plan is there")
		}, nil
	}})
	d.until("completed", stateOf, "1")
	waitForEvents(t, d.Store, 1)
	require.Equal(t, "2", d.one(`SELECT attempt FROM river_job WHERE args ->> 'key' = '1'`))
	failures := "json_array_length(errors)"
	if d.postgres {
		failures = "array_length(errors, 1)"
	}
	require.Equal(t, "1", d.one("SELECT "+failures+` FROM river_job WHERE args ->> 'key' = '1'`))
}

func cancelledCostsNoAttempt(t *testing.T, d *driven) {
	enqueue(t, d.Store, models.JobPublish, "1")
	started := make(chan struct{}, 1)
	end := running(t, d.Store, map[string]models.Work{models.JobPublish: func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		started <- struct{}{}
		<-ctx.Done()
		return nil, ctx.Err()
	}})
	receive(t, started)
	end()
	require.Equal(t, "available", d.one(stateOf, "1"))
	require.Equal(t, "0", d.one(`SELECT attempt FROM river_job WHERE args ->> 'key' = '1'`))
}

func lostJobsAreRetried(t *testing.T, d *driven) {
	for n := range 3 {
		enqueue(t, d.Store, models.JobPublish, fmt.Sprint(n))
	}
	holders := `jsonb('["a process that died"]')`
	if d.postgres {
		holders = "ARRAY['a process that died']"
	}
	d.exec(`UPDATE river_job SET state = 'running', attempt = 1, attempted_at = ?, attempted_by = `+holders+` WHERE args ->> 'key' <> '2'`, d.ago(0))
	running(t, d.Store, map[string]models.Work{models.JobPublish: adds("plan")})
	waitForEvents(t, d.Store, 3)
	for n := range 3 {
		d.until("completed", stateOf, fmt.Sprint(n))
	}
	waitForEvents(t, d.Store, 3)
}

func forgottenIsRetried(t *testing.T, d *driven) {
	s := d.open(store.WithForget(120 * time.Millisecond))
	enqueue(t, s, models.JobPublish, "held")
	_, err := s.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "forgotten", RunAt: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	started, proceed := make(chan struct{}), make(chan struct{})
	running(t, s, map[string]models.Work{models.JobPublish: func(ctx context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "held" {
			close(started)
			<-proceed
		}
		return adds("plan")(ctx, j)
	}})
	receive(t, started)
	d.exec(`UPDATE river_job SET state = 'running', attempt = 1, attempted_at = ?, attempted_by = (SELECT attempted_by FROM river_job WHERE args ->> 'key' = 'held')
		WHERE args ->> 'key' = 'forgotten'`, d.ago(0))
	d.until("completed", stateOf, "forgotten")
	require.Equal(t, "2", d.one(`SELECT attempt FROM river_job WHERE args ->> 'key' = 'forgotten'`))
	require.Equal(t, "running", d.one(stateOf, "held"), "what is worked on is not given back, however long it takes")
	close(proceed)
	d.until("completed", stateOf, "held")
	require.Equal(t, "1", d.one(`SELECT attempt FROM river_job WHERE args ->> 'key' = 'held'`))
	waitForEvents(t, s, 2)
}

func hungJobIsRescued(t *testing.T, d *driven) {
	if testing.Short() {
		t.Skip("River looks for hung jobs every 30 s")
	}
	enqueue(t, d.Store, models.JobPublish, "1")
	started, proceed := make(chan models.Job, 2), make(chan struct{})
	var tries atomic.Int32
	end := running(t, d.Store, map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		first := tries.Add(1) == 1
		started <- j
		if first {
			<-proceed // it hears nothing
		}
		return func(tx models.Store) error { return event(tx, fmt.Sprint("first ", first)) }, nil
	}})
	receive(t, started)
	d.exec(`UPDATE river_job SET attempted_at = ? WHERE args ->> 'key' = '1'`, d.ago(time.Hour))
	d.until("completed", stateOf, "1")
	again := receive(t, started)
	require.Equal(t, 1, again.TimedOut)
	require.Equal(t, "first false", waitForEvents(t, d.Store, 1)[0].Kind)
	close(proceed)
	end()
	waitForEvents(t, d.Store, 1)
	require.Equal(t, "completed", d.one(stateOf, "1"))
}

func nextAttemptKnows(t *testing.T, d *driven) {
	enqueue(t, d.Store, models.JobPublish, "1")
	seen := make(chan int, 3)
	running(t, d.Store, map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		seen <- j.TimedOut
		switch len(seen) {
		case 1:
			return nil, fmt.Errorf("plan the day: %w", context.DeadlineExceeded)
		case 2:
			return nil, errors.New("a newer plan is there")
		}
		return nil, nil
	}})
	d.until("completed", stateOf, "1")
	require.Equal(t, []int{0, 1, 1}, []int{<-seen, <-seen, <-seen})
}

func cleaned(t *testing.T, d *driven) {
	for _, key := range []string{"old", "new", "waits", "given up", "given up long ago"} {
		j := models.Job{Kind: models.JobPublish, Site: shop, Key: key}
		if key == "waits" {
			j.RunAt = time.Now().Add(time.Hour)
		}
		_, err := d.Enqueue(ctx, j)
		require.NoError(t, err)
	}
	finished := `UPDATE river_job SET state = ?, finalized_at = ? WHERE args ->> 'key' = ?` //nolint:misspell // River's column
	d.exec(finished, "completed", d.ago(31*24*time.Hour), "old")
	d.exec(finished, "completed", d.ago(29*24*time.Hour), "new")
	d.exec(finished, "discarded", d.ago(29*24*time.Hour), "given up")
	d.exec(finished, "discarded", d.ago(31*24*time.Hour), "given up long ago")
	d.exec(`UPDATE river_job SET created_at = ? WHERE args ->> 'key' = 'waits'`, d.ago(365*24*time.Hour))
	running(t, d.Store, map[string]models.Work{})
	d.until("none", stateOf, "old")
	d.until("none", stateOf, "given up long ago")
	require.Equal(t, []string{"completed", "scheduled", "discarded"}, []string{d.one(stateOf, "new"), d.one(stateOf, "waits"), d.one(stateOf, "given up")})
}

func timesCompare(t *testing.T, d *driven) {
	enqueue(t, d.Store, models.JobPublish, "done")
	_, err := d.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: shop, Key: "later", RunAt: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	enqueue(t, d.Store, models.JobPublish, "failed")
	var failed atomic.Bool
	end := running(t, d.Store, map[string]models.Work{models.JobPublish: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "failed" && failed.CompareAndSwap(false, true) {
			return nil, errors.New("the disk is slow")
		}
		return nil, nil
	}})
	d.until("completed", stateOf, "done")
	d.until("completed", stateOf, "failed")
	end()
	rows, err := d.raw.QueryContext(ctx, `SELECT created_at || '' FROM river_job UNION ALL SELECT scheduled_at || '' FROM river_job
		UNION ALL SELECT attempted_at || '' FROM river_job WHERE attempted_at IS NOT NULL UNION ALL SELECT finalized_at || '' FROM river_job WHERE finalized_at IS NOT NULL`) //nolint:misspell // River's column
	require.NoError(t, err)
	n := 0
	for ; rows.Next(); n++ {
		var at string
		require.NoError(t, rows.Scan(&at))
		require.Regexp(t, regexp.MustCompile(`^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\.\d{3}$`), at)
	}
	require.NoError(t, errors.Join(rows.Err(), rows.Close()))
	require.Greater(t, n, 8)
}

func waitingByIndex(t *testing.T, d *driven) {
	rows, err := d.raw.QueryContext(ctx, `EXPLAIN QUERY PLAN SELECT id, scheduled_at > '' AS later FROM river_job WHERE args ->> 'site' = ? AND args ->> 'what' = ?
		AND state IN ('available', 'pending', 'retryable', 'scheduled') ORDER BY scheduled_at LIMIT 1`, "a", "b")
	require.NoError(t, err)
	var plan string
	for rows.Next() {
		var id, parent, unused int
		var step string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &step))
		plan += step + "\n"
	}
	require.NoError(t, errors.Join(rows.Err(), rows.Close()))
	require.Contains(t, plan, "hotday_waiting_jobs")
}

func takesOver(t *testing.T, d *driven) {
	other := d.open()
	started := make(chan struct{}, 1)
	end := running(t, d.Store, map[string]models.Work{models.JobPublish: func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		select {
		case started <- struct{}{}:
		default:
		}
		<-ctx.Done()
		return nil, ctx.Err()
	}})
	for n := range 5 {
		enqueue(t, other, models.JobPublish, fmt.Sprint(n))
	}
	receive(t, started)
	running(t, other, map[string]models.Work{models.JobPublish: adds("plan")})
	end()
	d.until("5", `SELECT COUNT(*) FROM river_job WHERE state = 'completed' AND args ->> 'what' = 'publish'`)
	last, err := d.LastEventID(ctx, shop)
	require.NoError(t, err)
	require.EqualValues(t, 5, last)
}

func oldLines(t *testing.T, d *driven) {
	for n, kind := range []string{models.JobPlan, models.JobRefit, models.JobReplan, models.JobWatch} {
		enqueue(t, d.Store, kind, fmt.Sprint(n))
	}
	d.exec(`UPDATE river_job SET queue = 'default', priority = 1`)
	work := map[string]models.Work{}
	for _, kind := range []string{models.JobPlan, models.JobRefit, models.JobReplan, models.JobWatch} {
		work[kind] = adds("plan")
	}
	running(t, d.Store, work)
	waitForEvents(t, d.Store, 4)
}

func longWrite(t *testing.T, d *driven) {
	running(t, d.Store, map[string]models.Work{models.JobPublish: adds("plan")})
	enqueue(t, d.Store, models.JobPublish, "before")
	waitForEvents(t, d.Store, 1)
	require.NoError(t, d.Within(ctx, func(tx models.Store) error {
		time.Sleep(2 * time.Second) // as a large import
		enqueue(t, tx, models.JobPublish, "after")
		return nil
	}))
	waitForEvents(t, d.Store, 2)
}
