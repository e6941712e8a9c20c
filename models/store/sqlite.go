package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pressly/goose/v3/database"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"hotday/models"
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
		river:       riverOn[*riversqlite.Driver]{riversqlite.New},
		open:        openSQLite,
		prepare: func(ctx context.Context, write *sql.DB) error {
			// The log is cut back to this after a burst of writes. The setting is the connection's, of which there is one.
			_, err := write.ExecContext(ctx, fmt.Sprintf("PRAGMA journal_size_limit = %d", journalLimit))
			return err
		},
		lock:        sqliteLock,
		workerAlone: true,
		writers:     1,
		snapshot:    sql.TxOptions{ReadOnly: true},
		reason:      func(err error) string { return sqliteReasons[sqliteCode(err)] },
		riverTime:   func(t time.Time) any { return t.UTC().Format(riverTime) },
		riverMs:     func(sql string) string { return "CAST(ROUND(unixepoch(" + sql + ", 'subsec') * 1000) AS INTEGER)" },
		deferKeys:   "PRAGMA defer_foreign_keys = ON",
		siteOwned: `SELECT t.name AS name, c.name AS "column" FROM pragma_table_list t, pragma_table_info(t.name) c
			WHERE t.schema = 'main' AND t.type = 'table' AND c.name IN ('site', 'site_id') AND t.name <> 'audit' ORDER BY t.name`,
		erasing:  sqliteErasing,
		sizes:    sqliteSizes,
		freeDisk: func(dsn string) (int64, bool) { return freeDisk(filepath.Dir(dsn)) },
	}
}

// sqliteURI returns the URI of a database file with the settings common to all connections, in parameters that both drivers know. With
// synchronous=FULL a commit in WAL mode waits for the disk, so acknowledged data survives a power cut. The statement cache is the cgo
// driver's; the other ignores it.
func sqliteURI(path string, settings ...string) string {
	all := append([]string{"_busy_timeout=10000", "_foreign_keys=1", "_synchronous=FULL", "_journal_mode=WAL", "_stmt_cache_size=100"}, settings...)
	return fileURI(path) + "?" + strings.Join(all, "&")
}

// Read connections, of requests and of jobs: however much jobs read, requests do not wait for a connection.
const (
	readers     = 4
	jobsReaders = 4
)

const codeBusy = 5 // another connection holds the lock

// sqliteReasons are the causes of failures by SQLite's result codes, https://www.sqlite.org/rescode.html. sqliteCode returns the one of an
// error, 0 if it is another's.
var sqliteReasons = map[int]string{
	codeBusy: models.StorageLocked, 6: models.StorageLocked, 8: models.StorageReadOnly, 10: models.StorageFailing, 13: models.StorageFull, 14: models.StorageFailing,
}

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
func openSQLite(path string) (p pools, err error) {
	if path == "" || strings.Contains(path, ":memory:") {
		return p, errors.New("the database must be a file: connections cannot share an in-memory database")
	}
	if dir := filepath.Dir(path); dir != "" {
		if _, err := os.Stat(dir); err != nil {
			return p, fmt.Errorf("the database's directory: %w", err)
		}
	}
	if err := createPrivate(path); err != nil {
		return p, err
	}
	if p.write, err = sql.Open(DriverName, sqliteURI(path, "_txlock=immediate")); err != nil {
		return p, err
	}
	p.write.SetMaxOpenConns(1)
	p.write.SetMaxIdleConns(1)
	if p.read, err = sqliteReaders(path, readers); err != nil {
		return p, errors.Join(err, p.write.Close())
	}
	if p.jobs, err = sqliteReaders(path, jobsReaders); err != nil {
		return p, errors.Join(err, p.write.Close(), p.read.Close())
	}
	return p, nil
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

// sqliteErasing runs a change after which what it replaced is nowhere in the files: overwritten content is zeroed, and the log, which has it
// too, is emptied.
func sqliteErasing(ctx context.Context, write *sql.DB, change func() (changed int, err error)) error {
	if _, err := write.ExecContext(ctx, "PRAGMA secure_delete = ON"); err != nil {
		return err
	}
	changed, err := change()
	if err == nil && changed > 0 {
		_, err = write.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	}
	_, off := write.ExecContext(ctx, "PRAGMA secure_delete = OFF")
	return errors.Join(err, off)
}

// sqliteSizes returns the bytes of the database file and of its write-ahead log.
func sqliteSizes(_ context.Context, sh *shared) (database, log int64, err error) {
	size := func(path string) (int64, error) {
		f, err := os.Stat(path)
		if err != nil {
			return 0, err
		}
		return f.Size(), nil
	}
	if database, err = size(sh.dsn); err != nil {
		return 0, 0, err
	}
	log, err = size(sh.dsn + "-wal")
	if errors.Is(err, fs.ErrNotExist) { // before the first write
		err = nil
	}
	return database, log, err
}
