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

	// The driver is named, since the store depends on its connection parameters and its statement cache.
	_ "github.com/mattn/go-sqlite3"
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
		panic(err) // the folder is compiled in
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

// sqliteURI names a database file with the settings that every connection of ours has. synchronous=FULL makes a commit in WAL
// mode wait for the disk: what was acknowledged outlives a loss of power.
func sqliteURI(path string, settings ...string) string {
	all := append([]string{"_busy_timeout=10000", "_foreign_keys=1", "_synchronous=FULL", "_journal_mode=WAL", "_stmt_cache_size=100"}, settings...)
	return fileURI(path) + "?" + strings.Join(all, "&")
}

// fileURI names a file in the way that every character of its path may have, https://www.sqlite.org/uri.html.
func fileURI(path string) string {
	p := filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" {
		p = "/" + p
	}
	return "file:" + (&url.URL{Path: p}).EscapedPath()
}

// openSQLite opens the pools: one connection that writes, in transactions that take the write lock as they begin (one that
// began as a reader could not wait for it), and several that cannot write.
func openSQLite(path string, readers int) (write, read *sql.DB, err error) {
	if path == "" || strings.Contains(path, ":memory:") {
		return nil, nil, errors.New("the database must be a file: two connections do not share one in memory")
	}
	if dir := filepath.Dir(path); dir != "" {
		if _, err := os.Stat(dir); err != nil {
			return nil, nil, fmt.Errorf("the folder of the database: %w", err)
		}
	}
	if write, err = sql.Open("sqlite3", sqliteURI(path, "_txlock=immediate")); err != nil {
		return nil, nil, err
	}
	write.SetMaxOpenConns(1)
	write.SetMaxIdleConns(1)
	if read, err = sql.Open("sqlite3", sqliteURI(path, "_txlock=deferred", "_query_only=1")); err != nil {
		return nil, nil, errors.Join(err, write.Close())
	}
	read.SetMaxOpenConns(readers)
	read.SetMaxIdleConns(readers)
	return write, read, nil
}

// sqliteLock holds an exclusive lock on an empty database beside the real one. SQLite's own file locks work wherever SQLite
// does, and the system drops them with the process.
func sqliteLock(ctx context.Context, path, name string) (func() error, error) {
	uri := fileURI(path+"-"+name) + "?_txlock=exclusive&_busy_timeout=250&_journal_mode=MEMORY"
	db, err := sql.Open("sqlite3", uri)
	if err != nil {
		return nil, err
	}
	for {
		tx, err := db.BeginTx(context.WithoutCancel(ctx), nil)
		if err == nil {
			return func() error { return errors.Join(tx.Rollback(), db.Close()) }, nil
		}
		if ctx.Err() != nil || !strings.Contains(err.Error(), "locked") {
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
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

func (riverSQLite) client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error) {
	return river.NewClient(riversqlite.New(db), cfg)
}

func (riverSQLite) complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error) {
	return river.JobCompleteTx[*riversqlite.Driver](ctx, tx, job)
}
