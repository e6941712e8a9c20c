package store

import (
	"context"
	"database/sql"
	"io/fs"
	"strings"
	"time"

	"github.com/pressly/goose/v3/database"
	"github.com/riverqueue/river"
	"gorm.io/gorm"
)

// dialect holds the differences between databases. The rest of the package uses SQL common to SQLite and PostgreSQL, with ? for
// values where GORM rewrites it and placeholder elsewhere.
type dialect struct {
	name        string
	placeholder func(n int) string
	goose       database.Dialect
	migrations  fs.FS
	gorm        func(*sql.DB) gorm.Dialector
	river       riverDriver
	open        func(dsn string) (pools, error)
	// prepare is run once the schema is up to date; nil: nothing to do.
	prepare func(ctx context.Context, write *sql.DB) error
	// lock takes a named lock that is exclusive among all processes using the database, waiting until ctx ends. The lock is
	// released if the process dies.
	lock func(ctx context.Context, dsn, name string) (unlock func() error, err error)
	// workerAlone means that only the holder of the worker lock runs jobs, so jobs marked as running when it takes the lock belong
	// to a dead process. Otherwise lostHolders finds the clients of the queue that hold jobs and are gone.
	workerAlone bool
	lostHolders string
	// watchReplicas shows other processes until ctx ends that a client of the queue is there, calls shown once it does, and lost while
	// clients that are gone hold jobs; nil where workerAlone.
	watchReplicas func(ctx context.Context, sh *shared, client string, shown func(), lost func(context.Context) error)
	// writers is how many transactions write at once. With several, rowLock after a SELECT and nameLock, with a name as its argument, make
	// others wait until the commit.
	writers           int
	rowLock, nameLock string
	snapshot          sql.TxOptions // of a read transaction
	// reason is why a statement failed, if the storage or the way to it is the cause; "": something else is.
	reason func(error) string
	// badText reports whether a statement failed since a text is one that the database cannot store; nil: it stores every one.
	badText func(error) bool
	// riverTime is how an instant is compared with River's, riverMs the SQL of one of River's in Unix milliseconds.
	riverTime func(time.Time) any
	riverMs   func(sql string) string
	deferKeys string // statement: foreign keys are checked at the commit
	siteOwned string // query for the tables and columns that name a site
	// erasing runs a change after which what it replaced is nowhere in the files.
	erasing  func(ctx context.Context, write *sql.DB, change func() (changed int, err error)) error
	sizes    func(ctx context.Context, sh *shared) (database, log int64, err error)
	freeDisk func(dsn string) (bytes int64, known bool)
	announce string // statement that tells other processes at the commit which process added events of which site; "": there are no others
	// listen wakes those who wait for events of a site when another process commits some, until ctx ends, and calls ready once it hears
	// them; nil: there are no others.
	listen func(ctx context.Context, sh *shared, ready func())
}

// pools are the connections: to write, to read for requests, and to read for jobs.
type pools struct {
	write, read, jobs *sql.DB
}

// riverDriver is the database-specific part of River.
type riverDriver interface {
	migrate(ctx context.Context, db *sql.DB) error
	client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error)
	complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error)
}

// dialectOf returns the dialect for a DSN: a URL of PostgreSQL, or the path of an SQLite file.
func dialectOf(dsn string) (dialect, error) {
	scheme, _, isURL := strings.Cut(dsn, "://")
	switch {
	case IsServer(dsn):
		return postgresDialect(), nil
	case isURL:
		return dialect{}, unknownScheme(scheme)
	}
	return sqliteDialect(), nil
}
