package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"

	"hotday/models"
)

// Levels of a Finding.
const (
	FindingOK      = "ok"
	FindingWarning = "warning"
	FindingFault   = "fault"
)

// Finding is what Check found about one subject.
type Finding struct {
	Subject, Level, Text string
}

const maxFaults = 20 // listed

// Check examines a database file, or as much of a PostgreSQL database as hotday can know, without changing or migrating it: integrity, foreign keys, schema, file modes, keys of
// secrets, free disk. keyFile "" is the default. A service may be running on it. The error is non-nil only if the file cannot be read at all.
func Check(ctx context.Context, dsn, keyFile string) (list []Finding, err error) {
	if IsServer(dsn) {
		return checkPostgres(ctx, dsn, keyFile)
	}
	if keyFile == "" {
		keyFile = dsn + keySuffix
	}
	db, err := openPlain(dsn)
	if err != nil {
		return nil, fmt.Errorf("check %s: %w", dsn, err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	add := func(subject, level, format string, args ...any) {
		list = append(list, Finding{subject, level, fmt.Sprintf(format, args...)})
	}
	faults, err := faultsOf(ctx, db)
	if err != nil {
		return nil, fmt.Errorf("check %s: %w", dsn, err)
	}
	if len(faults) == 0 {
		add("integrity", FindingOK, "integrity and foreign keys hold")
	}
	for _, f := range faults {
		add("integrity", FindingFault, "%s", f)
	}
	list = append(list, checkSchema(ctx, db, sqliteDialect()))
	open := openModes(dsn, keyFile)
	if len(open) == 0 {
		add("file modes", FindingOK, "only the owner can open the files")
	}
	for _, o := range open {
		add("file modes", FindingWarning, "%s", o)
	}
	list = append(list, checkSecrets(ctx, db, &shared{dsn: dsn, name: dsn, keyFile: keyFile}), checkSize(ctx, db, dsn), checkDisk(dsn))
	return list, nil
}

// faultsOf returns what SQLite's checks of integrity and foreign keys report, at most maxFaults each.
func faultsOf(ctx context.Context, db *sql.DB) ([]string, error) {
	found, err := texts(ctx, db, fmt.Sprintf("PRAGMA integrity_check(%d)", maxFaults))
	if err != nil {
		return nil, fmt.Errorf("check the integrity: %w", err)
	}
	if len(found) == 1 && found[0] == "ok" {
		found = nil
	}
	orphans, err := texts(ctx, db, fmt.Sprintf(`SELECT 'row ' || COALESCE(rowid, '') || ' of ' || "table" || ' refers to a missing row of ' || parent
		FROM pragma_foreign_key_check LIMIT %d`, maxFaults))
	if err != nil {
		return nil, fmt.Errorf("check the foreign keys: %w", err)
	}
	return append(found, orphans...), nil
}

// requireSound returns an error for a database with faults.
func requireSound(ctx context.Context, db *sql.DB) error {
	faults, err := faultsOf(ctx, db)
	if err == nil && len(faults) > 0 {
		err = fmt.Errorf("the database is damaged: %s", strings.Join(faults, "; "))
	}
	return err
}

// texts reads the first column of a query.
func texts(ctx context.Context, db *sql.DB, query string) (out []string, err error) {
	rs, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rs.Close()) }()
	for rs.Next() {
		var s string
		if err := rs.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rs.Err()
}

// versionsOf returns the versions of our schema and the queue's.
func versionsOf(ctx context.Context, db *sql.DB) (schema, queue int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT MAX(version_id) FROM goose_db_version WHERE is_applied").Scan(&schema)
	if err == nil {
		err = db.QueryRowContext(ctx, "SELECT MAX(version) FROM river_migration WHERE line = 'main'").Scan(&queue)
	}
	if err != nil {
		return 0, 0, fmt.Errorf("this is not a database of hotday: %w", err)
	}
	return schema, queue, nil
}

// knownQueueVersion returns the newest version of the queue's schema that this program knows.
func knownQueueVersion() (int64, error) {
	m, err := rivermigrate.New(riversqlite.New(nil), nil)
	if err != nil {
		return 0, err
	}
	all := m.AllVersions()
	return int64(all[len(all)-1].Version), nil
}

// tooNew returns an error if a database's schema is newer than this program knows.
func tooNew(at, known int64) error {
	if at <= known {
		return nil
	}
	return fmt.Errorf("the database has schema version %d, but this program only knows versions up to %d: use a newer hotday", at, known)
}

// usable returns an error if a database's schema is newer than this program knows, and does not say that it can be used all the same.
func usable(ctx context.Context, db *sql.DB, at, known int64) error {
	var least int64
	err := tooNew(at, known)
	if err == nil {
		return nil
	}
	if e := db.QueryRowContext(ctx, "SELECT version FROM least_schema").Scan(&least); e == nil && least <= known {
		return nil
	}
	return err
}

func checkSchema(ctx context.Context, db *sql.DB, d dialect) Finding {
	f := Finding{Subject: "schema", Level: FindingFault}
	at, queue, err := versionsOf(ctx, db)
	if err != nil {
		f.Text = err.Error()
		return f
	}
	known, err := newestSchema(d.migrations)
	knownQueue, err2 := knownQueueVersion()
	if err := errors.Join(err, err2, usable(ctx, db, at, int64(known))); err != nil {
		f.Text = err.Error()
		return f
	}
	f.Level = FindingOK
	f.Text = fmt.Sprintf("version %d of %d, queue version %d of %d", at, known, queue, knownQueue)
	switch {
	case at > int64(known):
		f.Text += "; a newer program has migrated it, which this one can use"
	case at < int64(known) || queue < knownQueue:
		f.Text += "; the next start of the service migrates it"
	}
	return f
}

func checkSecrets(ctx context.Context, db *sql.DB, sh *shared) Finding {
	f := Finding{Subject: "secrets", Level: FindingFault}
	var stored []string
	var err error
	for _, table := range []string{"webhooks", "push_key"} {
		of, err2 := texts(ctx, db, "SELECT secret FROM "+table+" ORDER BY id")
		if err2 != nil && (strings.Contains(err2.Error(), "no such table") || strings.Contains(err2.Error(), "does not exist")) {
			continue // a schema from before there were any
		}
		stored, err = append(stored, of...), errors.Join(err, err2)
	}
	keys, err2 := sh.keys()
	if err := errors.Join(err, err2); err != nil {
		f.Text = err.Error()
		return f
	}
	if err := sh.keysOpen(keys, stored); err != nil {
		f.Text = err.Error()
		return f
	}
	plain := 0
	for _, x := range stored {
		if _, ok := sealedWith(x); !ok {
			plain++
		}
	}
	if plain > 0 {
		f.Level, f.Text = FindingWarning, fmt.Sprintf("%d secrets are in plain text; the next start of the service encrypts them", plain)
		return f
	}
	f.Level, f.Text = FindingOK, fmt.Sprintf("%d secrets, all encrypted", len(stored))
	return f
}

func checkSize(ctx context.Context, db *sql.DB, dsn string) Finding {
	var pages, free, size int64
	for pragma, to := range map[string]*int64{"page_count": &pages, "freelist_count": &free, "page_size": &size} {
		if err := db.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(to); err != nil {
			return Finding{"size", FindingFault, err.Error()}
		}
	}
	f := Finding{"size", FindingOK, fmt.Sprintf("%s, of which %s is free for new data", megabytes(pages*size), megabytes(free*size))}
	if wal, err := os.Stat(dsn + "-wal"); err == nil {
		f.Text += fmt.Sprintf("; write-ahead log %s", megabytes(wal.Size()))
	}
	return f
}

func checkDisk(dsn string) Finding {
	free, known := freeDisk(filepath.Dir(dsn))
	if !known {
		return Finding{"disk", FindingOK, "free space is not known on this system"}
	}
	f := Finding{"disk", FindingOK, megabytes(free) + " free"}
	if free < models.LittleDisk {
		f.Level = FindingWarning
		f.Text += "; make room before nothing can be saved"
	}
	return f
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }
