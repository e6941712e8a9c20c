package store

import (
	"context"
	"database/sql"
	"io/fs"

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
	// lock takes a named lock that is exclusive among all processes using the database, waiting until ctx ends. The lock is
	// released if the process dies.
	lock func(ctx context.Context, dsn, name string) (unlock func() error, err error)
	// workerAlone means that only the holder of the worker lock runs jobs, so jobs marked as running when it takes the lock belong
	// to a dead process.
	workerAlone bool
}

// riverDriver is the database-specific part of River.
type riverDriver interface {
	migrate(ctx context.Context, db *sql.DB) error
	client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error)
	complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error)
}
