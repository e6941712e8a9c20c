package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/pressly/goose/v3/database"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
)

//go:embed migrations/sqlite/*.sql
var sqliteMigrations embed.FS

func sqliteDialect() dialect {
	files, err := fs.Sub(sqliteMigrations, "migrations/sqlite")
	if err != nil {
		panic(err) // the directory is embedded
	}
	return dialect{
		name:        "sqlite",
		placeholder: func(int) string { return "?" },
		goose:       database.DialectSQLite3,
		migrations:  files,
		gorm:        func(db *sql.DB) gorm.Dialector { return sqlite.New(sqlite.Config{Conn: db}) },
		river:       riverSQLite{},
		lock:        sqliteLock,
		workerAlone: true,
	}
}

// sqliteURI returns the URI of a database file with the settings common to all connections, in parameters that both drivers know. With
// synchronous=FULL a commit in WAL mode waits for the disk, so acknowledged data survives a power cut. The statement cache is the cgo
// driver's; the other ignores it.
func sqliteURI(path string, settings ...string) string {
	all := append([]string{"_busy_timeout=10000", "_foreign_keys=1", "_synchronous=FULL", "_journal_mode=WAL", "_stmt_cache_size=100"}, settings...)
	return fileURI(path) + "?" + strings.Join(all, "&")
}

// Result codes of SQLite, https://www.sqlite.org/rescode.html. sqliteCode returns the one of an error, 0 if it is another's.
const (
	codeBusy = 5 // another connection holds the lock
)

// fileURI escapes a path as a file URI, https://www.sqlite.org/uri.html.
func fileURI(path string) string {
	p := filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" {
		p = "/" + p
	}
	return "file:" + (&url.URL{Path: p}).EscapedPath()
}

// openSQLite opens three pools: one write connection, whose transactions take the write lock at BEGIN (a deferred one could not wait
// for the lock after reading), and read-only connections for requests and for jobs.
func openSQLite(path string) (write, read, jobs *sql.DB, err error) {
	if path == "" || strings.Contains(path, ":memory:") {
		return nil, nil, nil, errors.New("the database must be a file: connections cannot share an in-memory database")
	}
	if dir := filepath.Dir(path); dir != "" {
		if _, err := os.Stat(dir); err != nil {
			return nil, nil, nil, fmt.Errorf("the database's directory: %w", err)
		}
	}
	if err := createPrivate(path); err != nil {
		return nil, nil, nil, err
	}
	if write, err = sql.Open(DriverName, sqliteURI(path, "_txlock=immediate")); err != nil {
		return nil, nil, nil, err
	}
	write.SetMaxOpenConns(1)
	write.SetMaxIdleConns(1)
	if read, err = sqliteReaders(path, readers); err != nil {
		return nil, nil, nil, errors.Join(err, write.Close())
	}
	if jobs, err = sqliteReaders(path, jobsReaders); err != nil {
		return nil, nil, nil, errors.Join(err, write.Close(), read.Close())
	}
	return write, read, jobs, nil
}

func sqliteReaders(path string, n int) (*sql.DB, error) {
	db, err := sql.Open(DriverName, sqliteURI(path, "_txlock=deferred", "_query_only=1"))
	if err == nil {
		db.SetMaxOpenConns(n)
		db.SetMaxIdleConns(n)
	}
	return db, err
}

// sqliteLock holds an exclusive lock on an empty database beside the real one. SQLite's file locks work wherever SQLite does, and the
// operating system releases them if the process dies.
func sqliteLock(ctx context.Context, path, name string) (func() error, error) {
	if err := createPrivate(path + "-" + name); err != nil {
		return nil, err
	}
	uri := fileURI(path+"-"+name) + "?_txlock=exclusive&_busy_timeout=250&_journal_mode=MEMORY"
	db, err := sql.Open(DriverName, uri)
	if err != nil {
		return nil, err
	}
	for {
		tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
		if err == nil {
			return func() error { return errors.Join(tx.Rollback(), db.Close()) }, nil
		}
		if ctx.Err() != nil || sqliteCode(err) != codeBusy {
			return nil, errors.Join(err, ctx.Err(), db.Close())
		}
	}
}

type riverSQLite struct{}

func (riverSQLite) migrate(ctx context.Context, db *sql.DB) error {
	m, err := rivermigrate.New(riversqlite.New(db), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	if _, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, waitingJobs)
	return err
}

func (riverSQLite) client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error) {
	return river.NewClient(riversqlite.New(db), cfg)
}

func (riverSQLite) complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error) {
	return river.JobCompleteTx[*riversqlite.Driver](ctx, tx, job)
}
