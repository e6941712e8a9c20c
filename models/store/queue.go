package store

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"hotday/models"
)

// jobArgs is a job in River's format, unique by its first three fields.
type jobArgs struct {
	JobKind string          `json:"what" river:"unique"`
	Site    string          `json:"site" river:"unique"`
	Key     string          `json:"key" river:"unique"`
	Args    json.RawMessage `json:"args,omitempty"`
	Packed  []byte          `json:"packed,omitempty"` // Args with an escaped NUL, which PostgreSQL refuses in jsonb
}

func argsOf(j models.Job) jobArgs {
	a := jobArgs{JobKind: j.Kind, Site: j.Site, Key: j.Key, Args: j.Args}
	if bytes.Contains(j.Args, []byte(`\u0000`)) {
		a.Args, a.Packed = nil, j.Args
	}
	return a
}

// Kind is River's kind, the same for all jobs. JobKind is ours.
func (jobArgs) Kind() string { return "hotday" }

// timedOut is how many attempts of a job ran out of time, or hung until they were rescued.
func timedOut(job *river.Job[jobArgs]) (n int) {
	for i := range job.Errors {
		if said := job.Errors[i].Error; strings.Contains(said, context.DeadlineExceeded.Error()) || strings.Contains(said, riverRescued) {
			n++
		}
	}
	return n
}

func (a jobArgs) job() models.Job {
	j := models.Job{Kind: a.JobKind, Site: a.Site, Key: a.Key, Args: a.Args}
	if a.Packed != nil {
		j.Args = a.Packed
	}
	return j
}

const (
	// jobTimeout bounds one attempt, with its wait for a core. After rescueAfter a running attempt counts as lost and the job is retried.
	jobTimeout     = 10 * time.Minute
	outsideTimeout = 2 * time.Minute // of a webhook, a message, a notification, a weather forecast
	rescueAfter    = 11 * time.Minute
	// leastStop is the least time for a forced stop.
	leastStop      = time.Second
	outsideWorkers = 4
	maxHeld        = 1000                // jobs held at once, many times those of all workers
	riverRescued   = "Stuck job rescued" // in the error of an attempt that River rescued
)

// queues are River's queues for the lines.
var queues = map[models.JobLine]string{
	models.LineAsked: "asked", models.LineDay: river.QueueDefault, models.LineNight: "night", models.LineOutside: "deliveries",
}

// WithWorkers sets how many jobs of each line run at once, besides those that wait for others' servers; 0 or none: two, so that one can
// compute while another reads.
func WithWorkers(n int) Option {
	return func(s *shared) { s.workers = cmp.Or(n, 2) }
}

// Enqueue adds a job in the caller's transaction.
func (s *Store) Enqueue(ctx context.Context, j models.Job) (added bool, err error) {
	err = failed(fmt.Sprintf("queue job %s %s %s", j.Kind, j.Site, j.Key), s.within(ctx, func(t *Store) error {
		line, priority := j.Line()
		opts := &river.InsertOpts{Queue: queues[line], Priority: priority, UniqueOpts: river.UniqueOpts{ByArgs: j.Key != ""}}
		if wait := j.RunAt.Sub(s.now()); wait > 0 { // even a past ScheduledAt would wait for River's scheduler, which runs every few seconds
			opts.ScheduledAt = time.Now().Add(wait) // River's clock is the machine's, whatever the store's
		}
		if j.OnePending() {
			if waits, err := t.joinPending(ctx, j, opts.ScheduledAt); err != nil || waits {
				return err
			}
		}
		res, err := t.queue.InsertTx(ctx, t.tx.sql, argsOf(j), opts)
		if err == nil {
			added = !res.UniqueSkippedAsDuplicate
		}
		return err
	}))
	return added && err == nil, err
}

// joinPending reports whether a job of the same kind and site waits, and sees to it that it begins no later than at an instant.
func (s *Store) joinPending(ctx context.Context, j models.Job, at time.Time) (bool, error) {
	if err := s.hold(ctx, "jobs "+j.Kind+" "+j.Site); err != nil {
		return false, err
	}
	// No worker takes the job until this transaction has committed what the job is to see.
	latest := s.dialect.riverTime(models.Later(at, time.Now()))
	waiting, found, err := row[struct {
		ID    int64
		Later bool
	}](ctx, s, `SELECT id, scheduled_at > ? AS later FROM river_job WHERE args ->> 'site' = ? AND args ->> 'what' = ? AND `+stateWaits+`
		ORDER BY scheduled_at LIMIT 1`+s.dialect.rowLock, latest, j.Site, j.Kind)
	if err == nil && waiting.Later { // after a failure it may wait for hours
		_, err = s.exec(ctx, `UPDATE river_job SET scheduled_at = ? WHERE id = ?`, latest, waiting.ID)
	}
	return found, err
}

// Run runs jobs until ctx ends. On SQLite only one Run is active on a database across all processes; the others wait.
func (s *Store) Run(ctx context.Context, work map[string]models.Work) (err error) {
	if s.tx != nil {
		return errors.New("run the queue on the store, not in a transaction")
	}
	if s.dialect.workerAlone {
		unlock, err := s.dialect.lock(ctx, s.dsn, "work")
		if err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return fmt.Errorf("wait for the worker lock: %w", err)
		}
		defer func() { err = errors.Join(err, unlock()) }()
	}
	busy := &attempts{}
	client, err := s.dialect.river.client(s.writeDB, s.riverConfig(work, busy))
	if err != nil {
		return fmt.Errorf("create the queue's client: %w", err)
	}
	started := make(chan struct{})
	if s.dialect.workerAlone {
		err = queueRelease(ctx, client, client.ID(), nil)
	} else {
		defer s.watch(ctx, client, started)()
	}
	if err != nil {
		return err
	}
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("start the queue: %w", err)
	}
	close(started)
	s.releaseForgotten(ctx, client, busy)
	return s.stop(context.WithoutCancel(ctx), client)
}

// watch shows other replicas that this one is there, before it takes jobs and until end is called, and gives back the jobs of those that are
// gone once the client has started: it must not insert jobs while it starts.
func (s *Store) watch(ctx context.Context, client *river.Client[*sql.Tx], started <-chan struct{}) (end func()) {
	there := make(chan struct{})
	shown := sync.OnceFunc(func() { close(there) })
	watching, cancel := context.WithCancel(context.WithoutCancel(ctx))
	var w sync.WaitGroup
	w.Go(func() {
		s.dialect.watchReplicas(watching, s.shared, client.ID(), shown, func(ctx context.Context) error {
			select {
			case <-started:
			case <-ctx.Done():
				return ctx.Err()
			}
			return queueRelease(ctx, client, time.Now().Truncate(10*time.Second).UTC().Format(time.RFC3339), nil) // one for all replicas
		})
	})
	select {
	case <-there:
	case <-ctx.Done():
	}
	return func() { cancel(); w.Wait() }
}

// queueRelease queues the release of the jobs of clients that are gone, and of those attempts.
func queueRelease(ctx context.Context, client *river.Client[*sql.Tx], key string, forgotten json.RawMessage) error {
	_, err := client.Insert(ctx, jobArgs{JobKind: releaseLost, Key: key, Args: forgotten}, &river.InsertOpts{UniqueOpts: river.UniqueOpts{ByArgs: true}})
	if err != nil {
		return fmt.Errorf("queue the release of lost jobs: %w", err)
	}
	return nil
}

// stop lets running jobs finish within the grace period, then cancels the rest, which releases them. Jobs that do not heed that in as much
// time again are left to the next start, which releases them.
func (s *Store) stop(ctx context.Context, client *river.Client[*sql.Tx]) error {
	soft, cancel := context.WithTimeout(ctx, s.grace)
	defer cancel()
	err := client.Stop(soft)
	if errors.Is(err, context.DeadlineExceeded) {
		hard, cancel := context.WithTimeout(ctx, max(s.grace, leastStop))
		defer cancel()
		if err = client.StopAndCancel(hard); errors.Is(err, context.DeadlineExceeded) {
			s.log.WarnContext(ctx, "jobs were still running at shutdown; the next start takes them up")
			err = nil
		}
	}
	if err != nil {
		return fmt.Errorf("stop the queue: %w", err)
	}
	return nil
}

// releaseLost is the kind of the job that gives back the jobs that a process held when it died: a worker begins with it where it is alone,
// otherwise the other replicas notice. Without it they would wait for rescueAfter. It is a job itself since River completes jobs only from
// within its workers.
const releaseLost = "release lost jobs"

// release makes the jobs available that clients hold that are gone, and those that a client says it does not work on. River retries no job
// that is running: each is completed first, in the same transaction.
func (w *worker) release(ctx context.Context, job *river.Job[jobArgs]) error {
	client := river.ClientFromContext[*sql.Tx](ctx)
	var forgotten []attempt
	if len(job.Args.Args) > 0 {
		if err := json.Unmarshal(job.Args.Args, &forgotten); err != nil {
			return err
		}
	}
	return failed("give lost jobs back", w.store.within(ctx, func(t *Store) error {
		held, err := client.JobListTx(ctx, t.tx.sql, river.NewJobListParams().States(rivertype.JobStateRunning).First(maxHeld))
		if err != nil {
			return err
		}
		gone := func(holder string) bool { return holder != client.ID() }
		if !t.dialect.workerAlone {
			lost, err := rows[string](ctx, t, t.dialect.lostHolders)
			if err != nil {
				return err
			}
			gone = func(holder string) bool { return slices.Contains(lost, holder) }
		}
		for _, row := range held.Jobs {
			if n := len(row.AttemptedBy); n > 0 && !gone(row.AttemptedBy[n-1]) && !slices.Contains(forgotten, attempt{row.ID, row.Attempt}) {
				continue
			}
			if _, err := t.dialect.river.complete(ctx, t.tx.sql, &river.Job[jobArgs]{JobRow: row}); err != nil {
				return err
			}
			if _, err := client.JobRetryTx(ctx, t.tx.sql, row.ID); err != nil {
				return err
			}
		}
		_, err = t.dialect.river.complete(ctx, t.tx.sql, job)
		return err
	}))
}

func (s *Store) riverConfig(work map[string]models.Work, busy *attempts) *river.Config {
	ws := river.NewWorkers()
	river.AddWorker(ws, &worker{store: s, work: work, busy: busy})
	lines := map[string]river.QueueConfig{}
	for line, name := range queues {
		lines[name] = river.QueueConfig{MaxWorkers: s.workers}
		if line == models.LineOutside {
			lines[name] = river.QueueConfig{MaxWorkers: outsideWorkers}
		}
	}
	return &river.Config{
		Logger:  s.log,
		Queues:  lines,
		Workers: ws,
		// The listener would query the single write connection every 50 ms; polling is enough.
		PollOnly:             true,
		FetchCooldown:        min(s.poll, 100*time.Millisecond),
		FetchPollInterval:    s.poll,
		JobTimeout:           jobTimeout,
		RescueStuckJobsAfter: rescueAfter,
		// A completed job blocks others with its kind, site and key; one that used up its attempts does not.
		CompletedJobRetentionPeriod: s.keepJobs,
		DiscardedJobRetentionPeriod: s.keepJobs,
		RetryPolicy:                 retryPolicy{s.retry},
	}
}

// retryPolicy is the back-off after failures: attempt⁴ seconds unless wait is set.
type retryPolicy struct {
	wait func(attempt int) time.Duration
}

func (p retryPolicy) NextRetry(job *rivertype.JobRow) time.Time {
	failures := len(job.Errors) + 1
	if p.wait != nil {
		return time.Now().Add(p.wait(failures))
	}
	return time.Now().Add(time.Duration(math.Pow(float64(failures), 4) * float64(time.Second)))
}

// worker runs jobs of all kinds.
type worker struct {
	river.WorkerDefaults[jobArgs]
	store *Store
	work  map[string]models.Work
	busy  *attempts
}

// Timeout bounds one attempt of a job.
func (w *worker) Timeout(job *river.Job[jobArgs]) time.Duration {
	if line, _ := job.Args.job().Line(); line == models.LineOutside {
		return outsideTimeout
	}
	return 0 // the client's
}

// Work runs a job's work, then its effect and its completion in one transaction.
func (w *worker) Work(ctx context.Context, job *river.Job[jobArgs]) error {
	defer w.busy.begin(job.JobRow)()
	if job.Args.JobKind == releaseLost {
		return w.release(ctx, job)
	}
	err := w.attempt(ctx, job)
	if err == nil || ctx.Err() != nil || !job.Args.job().OnePending() {
		return err
	}
	left, e := w.leaveToWaiting(ctx, job)
	if left && e == nil {
		return nil
	}
	return errors.Join(err, e)
}

func (w *worker) attempt(ctx context.Context, job *river.Job[jobArgs]) error {
	work, ok := w.work[job.Args.JobKind]
	if !ok {
		return fmt.Errorf("unknown kind of job %q; known: %v", job.Args.JobKind, slices.Sorted(maps.Keys(w.work)))
	}
	j := job.Args.job()
	j.TimedOut = timedOut(job)
	effect, err := work(ctx, j)
	if err != nil {
		w.store.log.Warn("job failed", slog.String("kind", job.Args.JobKind), slog.String("site", job.Args.Site),
			slog.String("key", job.Args.Key), slog.Int("attempt", job.Attempt), slog.Any("error", err))
		return err
	}
	return w.store.within(ctx, func(tx *Store) error {
		if effect != nil {
			if err := effect(tx); err != nil {
				return err
			}
		}
		return tx.complete(ctx, job)
	})
}

// complete completes an attempt of a job in the transaction of its effect.
func (s *Store) complete(ctx context.Context, job *river.Job[jobArgs]) error {
	done, err := s.dialect.river.complete(ctx, s.tx.sql, job)
	if err != nil {
		return fmt.Errorf("complete the job: %w", err)
	}
	// The job was rescued and given to another attempt in the meantime; only that attempt may take effect.
	if done.State != rivertype.JobStateCompleted || done.Attempt != job.Attempt {
		return fmt.Errorf("attempt %d was rescued before it ended", job.Attempt)
	}
	return nil
}

// leaveToWaiting ends a job whose attempt failed, without effect, if another of its kind and site waits, which will see all that it saw.
// With both to be retried, more and more would wait while something fails.
func (w *worker) leaveToWaiting(ctx context.Context, job *river.Job[jobArgs]) (left bool, err error) {
	err = w.store.within(ctx, func(tx *Store) error {
		if left, err = tx.joinPending(ctx, job.Args.job(), time.Now().Add(rescueAfter)); err != nil || !left {
			return err
		}
		return tx.complete(ctx, job)
	})
	return left, err
}
