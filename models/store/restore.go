package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Restore makes a new database at dsn from a backup and migrates it to this program's schema. Nothing may be there yet. It is put into
// place once it is complete, so after a failure there is still nothing. A backup with a newer schema or format is refused.
func Restore(ctx context.Context, dsn, file string) (m Manifest, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("restore %s: %w", file, err)
		}
	}()
	if err := requireFile(dsn, "restore a backup to an SQLite file, and copy that with hotday copy"); err != nil {
		return m, err
	}
	if err := nothingAt(dsn); err != nil {
		return m, err
	}
	dir, err := os.MkdirTemp(filepath.Dir(dsn), ".hotday-restore-*")
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()

	unpacked := filepath.Join(dir, databaseName)
	if m, err = unpack(file, unpacked); err != nil {
		return m, err
	}
	if err := checkCopy(ctx, unpacked); err != nil {
		return m, err
	}
	s, err := Open(ctx, unpacked) // migrates
	if err != nil {
		return m, err
	}
	if err := s.Close(); err != nil {
		return m, err
	}
	return m, place(unpacked, dsn)
}

// nothingAt returns an error if there is a database at dsn, or the log of one that was there: SQLite would apply it to the new one.
func nothingAt(dsn string) error {
	for _, suffix := range []string{"", "-wal", "-shm", "-journal"} {
		_, err := os.Lstat(dsn + suffix)
		switch {
		case err == nil && suffix == "":
			return fmt.Errorf("%s exists already and is not overwritten: restore under a new name", dsn)
		case err == nil:
			return fmt.Errorf("%s belongs to a database that was here before: move it away first", dsn+suffix)
		case !errors.Is(err, fs.ErrNotExist):
			return err
		}
	}
	return nil
}

func unpack(file, to string) (m Manifest, err error) {
	known, err := newestSchema(sqliteDialect().migrations)
	if err != nil {
		return m, err
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, privateMode)
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	m, err = readArchive(file, func(m Manifest) error { return tooNew(m.Schema, int64(known)) }, f)
	if err != nil {
		return m, err
	}
	return m, f.Sync()
}

func checkCopy(ctx context.Context, path string) (err error) {
	db, err := openPlain(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return requireSound(ctx, db)
}

// place gives a finished database its name, unless something has taken it meanwhile.
func place(from, to string) error {
	err := os.Link(from, to) // fails where there is a file, unlike a rename
	if err != nil && !errors.Is(err, fs.ErrExist) {
		if err = nothingAt(to); err == nil { // a file system without links
			err = os.Rename(from, to)
		}
	}
	return errors.Join(err, syncDir(filepath.Dir(to)))
}
