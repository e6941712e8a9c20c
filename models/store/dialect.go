package store

import (
	"context"
	"database/sql"
	"io/fs"

	"github.com/pressly/goose/v3/database"
	"github.com/riverqueue/river"
	"gorm.io/gorm"
)

// dialect is everything in which one kind of database differs from another. The rest of the package is written in SQL that
// SQLite and PostgreSQL read alike, with ? for a value where GORM rewrites it and placeholder where it does not.
type dialect struct {
	name        string
	placeholder func(n int) string
	goose       database.Dialect
	migrations  fs.FS
	gorm        func(*sql.DB) gorm.Dialector
	river       riverDriver
	// lock takes a lock that one process of all that use the database can hold, waiting until ctx ends; the lock falls with
	// the process.
	lock func(ctx context.Context, dsn, name string) (unlock func() error, err error)
	// workerAlone says that only the holder of the worker lock runs jobs, so that what is marked as running when it takes the
	// lock was left by a process that died.
	workerAlone bool
}

// riverDriver is the part of River that depends on the database.
type riverDriver interface {
	migrate(ctx context.Context, db *sql.DB) error
	client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error)
	complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error)
}
