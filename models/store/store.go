// Package store implements the store interfaces of models with GORM on SQLite and PostgreSQL.
//
// Data is on disk when a method, or the Within around it, returns nil. Jobs are rows in the same database, so a job commits with the data
// that it belongs to.
//
// On SQLite one connection writes, in immediate transactions with synchronous=FULL, and several read the last committed state. On PostgreSQL
// several transactions write at once, at READ COMMITTED: each locks the sites that it reads or changes, and where it reads and then changes
// what belongs to no site, the organisation (see hold). So methods may read and then write as if they were alone.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"sync"
	"sync/atomic"
	"time"

	"github.com/oklog/ulid/v2"
	"github.com/riverqueue/river"
	"gorm.io/gorm"

	"hotday/models"
)

// Store implements models.Store, models.SessionStore and models.Worker. The Store that Open returns is safe for concurrent use; one
// that Within or Read passes to its function is bound to a transaction and is not.
type Store struct {
	*shared
	db *gorm.DB // a read pool, or the transaction inside one
	tx *transaction
}

var (
	_ models.Store        = (*Store)(nil)
	_ models.SessionStore = (*Store)(nil)
	_ models.Worker       = (*Store)(nil)
)

// shared is the state common to all Stores of a database.
type shared struct {
	dialect  dialect
	dsn      string
	name     string // dsn without its password
	process  string // of this Store, among those that use the database
	keyFile  string // of secrets at rest
	write    *gorm.DB
	writeDB  *sql.DB
	readDB   *sql.DB
	jobsDB   *sql.DB                // reads for jobs
	forJobs  *gorm.DB               // on jobsDB
	queue    *river.Client[*sql.Tx] // inserts jobs only
	now      func() time.Time
	log      *slog.Logger
	retry    func(attempt int) time.Duration // before a job is tried again after its attempt-th failure (from 1); nil: attempt⁴ seconds
	forget   time.Duration                   // before an attempt that nobody works on is given back
	poll     time.Duration
	workers  int           // of each line
	keepJobs time.Duration // finished ones
	grace    time.Duration // time for running jobs when Run ends; then they are handed back
	posts    atomic.Uint64 // posts with an idempotency key so far

	turn    chan struct{}           // held by the transactions that write
	trouble atomic.Pointer[trouble] // nil: the last write succeeded

	mu      sync.Mutex
	changed map[string]chan struct{} // by site; closed when an event is committed

	background sync.WaitGroup
	open       context.Context // until close
	end        context.CancelFunc
}

// transaction is an open transaction.
type transaction struct {
	sql      *sql.Tx
	readOnly bool
	changed  map[string]bool // sites to notify after the commit
	held     map[string]bool // names that others wait for until it ends, see hold
	around   *transaction    // of a savepoint
}

// Option configures Open.
type Option func(*shared)

// WithClock sets the clock by which sessions expire and tokens count as used; time.Now otherwise.
func WithClock(now func() time.Time) Option { return func(s *shared) { s.now = now } }

// WithLogger sets where the queue says what it could not do; nowhere otherwise.
func WithLogger(l *slog.Logger) Option { return func(s *shared) { s.log = l } }

// WithFinishedJobs sets for how many days finished jobs are kept; otherwise as many as models.KeptRecords says.
func WithFinishedJobs(days int) Option {
	return func(s *shared) { s.keepJobs = time.Duration(days) * 24 * time.Hour }
}

// WithGrace sets how long Run waits for running jobs when it is to end, before it cancels them and hands them back; otherwise 10 s.
func WithGrace(d time.Duration) Option { return func(s *shared) { s.grace = d } }

// WithPoll sets how often Run looks for new jobs; otherwise every half second.
func WithPoll(every time.Duration) Option { return func(s *shared) { s.poll = every } }

// Open opens and migrates the database at dsn: the path of an SQLite file, which is created if it does not exist, or the URL of a PostgreSQL
// database, postgres://user@host/database, which must exist.
func Open(ctx context.Context, dsn string, opts ...Option) (*Store, error) {
	d, err := dialectOf(dsn)
	if err != nil {
		return nil, err
	}
	sh := &shared{dialect: d, dsn: dsn, name: Shown(dsn), process: ulid.Make().String(), now: time.Now, log: slog.New(slog.DiscardHandler), poll: 500 * time.Millisecond, forget: forgetAfter,
		grace: 10 * time.Second, changed: map[string]chan struct{}{}, turn: make(chan struct{}, d.writers)}
	sh.open, sh.end = context.WithCancel(context.WithoutCancel(ctx))
	if !IsServer(dsn) {
		sh.keyFile = dsn + keySuffix
	}
	keep, err := models.Keep{}.WithDefaults()
	if err != nil {
		return nil, err
	}
	WithFinishedJobs(keep[models.KeepJobs])(sh)
	WithWorkers(0)(sh)
	for _, o := range opts {
		o(sh)
	}
	p, err := d.open(dsn)
	if err != nil {
		return nil, fmt.Errorf("open the database %s: %w", sh.name, err)
	}
	sh.writeDB, sh.readDB, sh.jobsDB = p.write, p.read, p.jobs
	for _, open := range openModes(dsn, sh.keyFile) {
		sh.log.Warn(open)
	}
	s, err := sh.start(ctx)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open the database %s: %w", sh.name, err), sh.close())
	}
	return s, nil
}

func (sh *shared) start(ctx context.Context) (*Store, error) {
	if err := migrate(ctx, sh.dialect, sh.dsn, sh.writeDB); err != nil {
		return nil, err
	}
	if sh.dialect.prepare != nil {
		if err := sh.dialect.prepare(ctx, sh.writeDB); err != nil {
			return nil, err
		}
	}
	var err error
	if sh.write, err = sh.openGORM(sh.writeDB); err != nil {
		return nil, err
	}
	read, err := sh.openGORM(sh.readDB)
	if err != nil {
		return nil, err
	}
	if sh.forJobs, err = sh.openGORM(sh.jobsDB); err != nil {
		return nil, err
	}
	if sh.queue, err = sh.dialect.river.client(sh.writeDB, &river.Config{Logger: sh.log}); err != nil {
		return nil, err
	}
	if sh.dialect.listen != nil {
		ready := make(chan struct{})
		sh.background.Go(func() { sh.dialect.listen(sh.open, sh, sync.OnceFunc(func() { close(ready) })) })
		select {
		case <-ready:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	s := &Store{shared: sh, db: read}
	return s, s.nameSites(ctx)
}

func (sh *shared) close() error {
	sh.end()
	sh.background.Wait()
	return pools{sh.writeDB, sh.readDB, sh.jobsDB}.close()
}

// ForJobs is the same database through the read connections of jobs.
func (s *Store) ForJobs() *Store { return &Store{shared: s.shared, db: s.forJobs} }

// Close closes the database. Run must have returned before.
func (s *Store) Close() error {
	if s.tx != nil {
		return errors.New("cannot close the store inside a transaction")
	}
	return s.close()
}

// Within runs fn in a write transaction; inside another Within, in a savepoint that can fail on its own.
func (s *Store) Within(ctx context.Context, fn func(models.Store) error) error {
	return s.within(ctx, func(t *Store) error { return fn(t) })
}

// Read runs fn in a read transaction, on a snapshot taken at its first read.
func (s *Store) Read(ctx context.Context, fn func(models.Store) error) error {
	return s.view(ctx, func(t *Store) error { return fn(t) })
}

// within runs fn in a write transaction and notifies the screens after the commit.
func (s *Store) within(ctx context.Context, fn func(*Store) error) error {
	switch {
	case s.tx != nil && s.tx.readOnly:
		return errors.New("a read transaction cannot write")
	case s.tx != nil:
		savepoint := &transaction{sql: s.tx.sql, changed: map[string]bool{}, held: map[string]bool{}, around: s.tx}
		err := s.db.WithContext(ctx).Transaction(func(db *gorm.DB) error {
			return fn(&Store{shared: s.shared, db: db, tx: savepoint})
		})
		if err == nil {
			maps.Copy(s.tx.changed, savepoint.changed)
			maps.Copy(s.tx.held, savepoint.held)
		}
		return err
	}
	done, err := s.takeTurn(ctx)
	if err != nil {
		return err
	}
	tx := &transaction{changed: map[string]bool{}, held: map[string]bool{}}
	err = func() error {
		defer done()
		return s.write.WithContext(ctx).Transaction(func(db *gorm.DB) error {
			tx.sql = db.Statement.ConnPool.(*sql.Tx)
			t := &Store{shared: s.shared, db: db, tx: tx}
			if err := fn(t); err != nil {
				return err
			}
			return t.announce(ctx)
		})
	}()
	if err := s.saved(err); err != nil {
		return err
	}
	s.notify(tx.changed)
	return nil
}

// view runs fn on one consistent snapshot.
func (s *Store) view(ctx context.Context, fn func(*Store) error) error {
	if s.tx != nil {
		return fn(s)
	}
	return s.storageError(s.db.WithContext(ctx).Transaction(func(db *gorm.DB) error {
		return fn(&Store{shared: s.shared, db: db, tx: &transaction{sql: db.Statement.ConnPool.(*sql.Tx), readOnly: true}})
	}, &s.dialect.snapshot))
}

// rows reads all rows of a query.
func rows[T any](ctx context.Context, s *Store, query string, args ...any) ([]T, error) {
	var out []T
	err := s.db.WithContext(ctx).Raw(query, args...).Scan(&out).Error
	return out, err
}

// row reads at most one row.
func row[T any](ctx context.Context, s *Store, query string, args ...any) (out T, found bool, err error) {
	list, err := rows[T](ctx, s, query, args...)
	if err != nil || len(list) == 0 {
		return out, false, err
	}
	return list[0], true, nil
}

// exec runs a statement and returns the number of rows affected.
func (s *Store) exec(ctx context.Context, query string, args ...any) (int64, error) {
	res := s.db.WithContext(ctx).Exec(query, args...)
	return res.RowsAffected, res.Error
}

// ms and instant convert between an instant and its stored form, Unix milliseconds.
func ms(t time.Time) int64       { return t.UnixMilli() }
func instant(ms int64) time.Time { return time.UnixMilli(ms).UTC() }
func msOrNil(t *time.Time) *int64 {
	if t == nil {
		return nil
	}
	m := ms(*t)
	return &m
}
func instantOrNil(m *int64) *time.Time {
	if m == nil {
		return nil
	}
	t := instant(*m)
	return &t
}

// failed wraps an error with the action that failed, except *models.Error, which is returned as it is.
func failed(action string, err error) error {
	var e *models.Error
	if err == nil || errors.As(err, &e) {
		return err
	}
	return fmt.Errorf("%s: %w", action, err)
}
