package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// CopiedTable is what Copy copied of a table. The digest is the same for the same rows in both databases.
type CopiedTable struct {
	Name   string
	Rows   int64
	Digest string
}

// Copy copies everything in an SQLite file into an empty PostgreSQL database, in one transaction: after a failure that is as empty as before.
// Rows and digests of each table are read back and compared before the commit. No service may be running on the file, which stays as it is.
// It needs room for a copy of the file in the directory for temporary files.
func Copy(ctx context.Context, from, to string) (tables []CopiedTable, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("copy %s to %s: %w", Shown(from), Shown(to), err)
		}
	}()
	if IsServer(from) || !IsServer(to) {
		return nil, errors.New("expected an SQLite file to copy from and postgres://user@host/database to copy to")
	}
	if _, err := os.Stat(from); err != nil {
		return nil, err
	}
	soon, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	unlock, err := sqliteLock(soon, from, "work")
	if err != nil {
		return nil, fmt.Errorf("a service is running on the file: stop it first (%w)", err)
	}
	defer func() { err = errors.Join(err, unlock()) }()
	source, end, err := migratedCopy(ctx, from)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, end()) }()
	target, err := Open(ctx, to) // migrates
	if err != nil {
		return nil, err
	}
	if err := target.Close(); err != nil {
		return nil, err
	}
	c, err := connectPostgres(ctx, to)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, closePostgres(ctx, c)) }()
	tx, err := c.Begin(ctx)
	if err != nil {
		return nil, err
	}
	cp := copier{from: source, to: tx}
	if tables, err = cp.all(ctx); err != nil {
		return tables, errors.Join(err, tx.Rollback(context.WithoutCancel(ctx)))
	}
	return tables, tx.Commit(ctx)
}

// migratedCopy opens a copy of a file, with this program's schema.
func migratedCopy(ctx context.Context, from string) (db *sql.DB, end func() error, err error) {
	dir, err := os.MkdirTemp("", "hotday-copy-*")
	if err != nil {
		return nil, nil, err
	}
	end = func() error { return os.RemoveAll(dir) }
	file := filepath.Join(dir, databaseName)
	if err = vacuumInto(ctx, from, file); err == nil {
		var s *Store
		if s, err = Open(ctx, file); err == nil {
			err = s.Close()
		}
	}
	if err == nil {
		db, err = openPlain(file)
	}
	if err != nil {
		return nil, nil, errors.Join(err, end())
	}
	return db, func() error { return errors.Join(db.Close(), os.RemoveAll(dir)) }, nil
}

// copier copies tables from SQLite to PostgreSQL.
type copier struct {
	from *sql.DB
	to   pgx.Tx
}

// copiedColumn is a column of a table of ours.
type copiedColumn struct {
	Table, Column, Type string
	Identity            bool
}

func (c copier) all(ctx context.Context) (done []CopiedTable, err error) {
	if _, err := c.to.Exec(ctx, postgresDialect().deferKeys); err != nil { // tables in any order
		return nil, err
	}
	rs, err := c.to.Query(ctx, `SELECT table_name, column_name, data_type, is_identity = 'YES' FROM information_schema.columns
		WHERE table_schema = current_schema() AND table_name NOT LIKE 'river\_%' AND table_name NOT LIKE 'goose\_%' AND table_name NOT IN ('write_probe', 'least_schema')
		ORDER BY table_name, ordinal_position`)
	if err != nil {
		return nil, err
	}
	columns, err := pgx.CollectRows(rs, pgx.RowToStructByPos[copiedColumn])
	if err != nil {
		return nil, err
	}
	var tables [][]copiedColumn
	for i, x := range columns {
		if i == 0 || columns[i-1].Table != x.Table {
			tables = append(tables, nil)
		}
		tables[len(tables)-1] = append(tables[len(tables)-1], x)
	}
	for _, t := range tables {
		if err := c.requireEmpty(ctx, t[0].Table); err != nil {
			return nil, err
		}
	}
	if err := c.requireEmpty(ctx, "river_job"); err != nil {
		return nil, err
	}
	for _, t := range tables {
		copied, err := c.table(ctx, t)
		if err != nil {
			return done, fmt.Errorf("table %s: %w", t[0].Table, err)
		}
		done = append(done, copied)
	}
	jobs, err := c.jobs(ctx)
	if err != nil {
		return done, fmt.Errorf("the jobs: %w", err)
	}
	return append(done, jobs), nil
}

func (c copier) requireEmpty(ctx context.Context, table string) error {
	var any bool
	err := c.to.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM "+table+")").Scan(&any)
	if err == nil && any {
		err = fmt.Errorf("the database to copy to is not empty: table %s has rows", table)
	}
	return err
}

func (c copier) table(ctx context.Context, columns []copiedColumn) (done CopiedTable, err error) {
	name := columns[0].Table
	var names []string
	for _, x := range columns {
		names = append(names, x.Column)
	}
	read := `SELECT "` + strings.Join(names, `", "`) + `" FROM ` + name
	rs, err := c.from.QueryContext(ctx, read)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, rs.Close()) }()
	var wrote digest
	source := &copiedRows{Rows: rs, columns: columns, digest: &wrote, values: make([]any, len(columns))}
	if _, err := c.to.CopyFrom(ctx, pgx.Identifier{name}, names, source); err != nil {
		return done, err
	}
	stored, err := c.digest(ctx, read)
	if err != nil {
		return done, err
	}
	if i := slices.IndexFunc(columns, func(x copiedColumn) bool { return x.Identity }); i >= 0 {
		if err := c.setSequence(ctx, name, names[i]); err != nil {
			return done, err
		}
	}
	return compareDigests(name, wrote, stored)
}

func compareDigests(table string, wrote, stored digest) (CopiedTable, error) {
	done := CopiedTable{Name: table, Rows: stored.rows, Digest: hex.EncodeToString(stored.sum[:8])}
	if wrote != stored {
		return done, fmt.Errorf("what was stored differs from the file: %d rows with digest %s there, %d with %s here", wrote.rows, hex.EncodeToString(wrote.sum[:8]), stored.rows, done.Digest)
	}
	return done, nil
}

// digest reads rows back.
func (c copier) digest(ctx context.Context, query string) (d digest, err error) {
	rs, err := c.to.Query(ctx, query)
	if err != nil {
		return d, err
	}
	defer rs.Close()
	for rs.Next() {
		values, err := rs.Values()
		if err != nil {
			return d, err
		}
		if err := d.add(values); err != nil {
			return d, err
		}
	}
	return d, rs.Err()
}

// setSequence continues a table's IDs after the highest that the file has used.
func (c copier) setSequence(ctx context.Context, table, column string) error {
	var last sql.NullInt64
	if err := c.from.QueryRowContext(ctx, "SELECT MAX(n) FROM (SELECT MAX("+column+") AS n FROM "+table+" UNION ALL SELECT seq FROM sqlite_sequence WHERE name = ?)", table).Scan(&last); err != nil || !last.Valid {
		return err
	}
	_, err := c.to.Exec(ctx, "SELECT setval(pg_get_serial_sequence($1, $2), $3)", table, column, max(1, last.Int64))
	return err
}

// copiedRows are rows of SQLite as PostgreSQL takes them.
type copiedRows struct {
	*sql.Rows
	columns []copiedColumn
	values  []any
	digest  *digest
}

func (r *copiedRows) Values() ([]any, error) {
	refs := make([]any, len(r.values))
	for i := range refs {
		r.values[i] = nil
		refs[i] = &r.values[i]
	}
	if err := r.Scan(refs...); err != nil {
		return nil, err
	}
	for i, x := range r.columns {
		switch v := r.values[i].(type) {
		case int64:
			switch x.Type {
			case "boolean":
				r.values[i] = v != 0
			case "double precision":
				r.values[i] = float64(v)
			}
		case string:
			if strings.ContainsRune(v, 0) {
				return nil, fmt.Errorf("column %s has a text with a NUL, which PostgreSQL cannot store", x.Column)
			}
		case []byte:
			if x.Type == "text" {
				r.values[i] = string(v)
			}
		}
	}
	return r.values, r.digest.add(r.values)
}
