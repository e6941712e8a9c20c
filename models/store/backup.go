package store

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/klauspost/compress/zstd"
)

// A backup is a tar archive compressed with zstd. It holds two files: manifest.json first, then hotday.db, a complete SQLite database
// without a write-ahead log. tar --zstd -xf opens it where hotday is not at hand.
const (
	manifestName = "manifest.json"
	databaseName = "hotday.db"
	backupFormat = 1
	maxManifest  = 1 << 20
)

// zstdMagic begins every zstd frame, RFC 8878.
var zstdMagic = []byte{0x28, 0xb5, 0x2f, 0xfd}

// Manifest describes the database of a backup.
type Manifest struct {
	Format  int              `json:"format"`  // of the archive
	Program string           `json:"program"` // version of hotday that took it
	TakenAt time.Time        `json:"taken_at"`
	Schema  int64            `json:"schema_version"`
	Queue   int64            `json:"queue_version"` // of the queue's schema
	Bytes   int64            `json:"database_bytes"`
	SHA256  string           `json:"database_sha256"`
	Rows    map[string]int64 `json:"rows"` // by table
}

// Backup writes the database at dsn to a file, as it stands when the backup begins, while others read and write it. The copy is checked
// (integrity, foreign keys) and the archive is read back before it takes the place of file, so a file of that name is always a whole
// backup. It needs room beside file for a copy of the database until it returns. The key of secrets is not part of it.
func Backup(ctx context.Context, dsn, file, program string, at time.Time) (m Manifest, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("back up %s to %s: %w", Shown(dsn), file, err)
		}
	}()
	if err := requireFile(dsn, "back it up with pg_dump or base backups, as deploy/install.md says"); err != nil {
		return m, err
	}
	if err := mayReplace(dsn, file); err != nil {
		return m, err
	}
	dir, err := os.MkdirTemp(filepath.Dir(file), ".hotday-backup-*")
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()

	copied, archive := filepath.Join(dir, databaseName), filepath.Join(dir, "archive")
	if err := vacuumInto(ctx, dsn, copied); err != nil {
		return m, err
	}
	m = Manifest{Format: backupFormat, Program: program, TakenAt: at.UTC().Truncate(time.Second)}
	if err := m.describe(ctx, copied); err != nil {
		return m, err
	}
	if err := writeArchive(archive, copied, m); err != nil {
		return m, err
	}
	if _, err := readArchive(archive, nil, io.Discard); err != nil {
		return m, fmt.Errorf("read the archive back: %w", err)
	}
	if err := os.Rename(archive, file); err != nil {
		return m, err
	}
	return m, syncDir(filepath.Dir(file))
}

// mayReplace reports why a backup may not be written to file: the database must exist, and a file that is replaced must be a backup.
func mayReplace(dsn, file string) error {
	if _, err := os.Stat(dsn); err != nil {
		return err
	}
	f, err := os.Open(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, len(zstdMagic))
	if _, err := io.ReadFull(f, head); err != nil || !bytes.Equal(head, zstdMagic) {
		return errors.New("the file exists and is not a backup; choose another name")
	}
	return nil
}

// openPlain opens an existing database file as it is, without migrating it.
func openPlain(path string) (*sql.DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, err
	}
	db, err := sql.Open(DriverName, fileURI(path)+"?mode=rw&_busy_timeout=10000")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// vacuumInto copies one snapshot of the database, without its free pages.
func vacuumInto(ctx context.Context, dsn, copied string) (err error) {
	if err := createPrivate(copied); err != nil {
		return err
	}
	db, err := openPlain(dsn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", copied); err != nil {
		return fmt.Errorf("copy the database: %w", err)
	}
	return nil
}

// describe checks the copy and fills in the rest of the manifest.
func (m *Manifest) describe(ctx context.Context, copied string) (err error) {
	db, err := openPlain(copied)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := requireSound(ctx, db); err != nil {
		return err
	}
	if m.Schema, m.Queue, err = versionsOf(ctx, db); err != nil {
		return err
	}
	if m.Rows, err = rowCounts(ctx, db); err != nil {
		return err
	}
	m.SHA256, m.Bytes, err = fileHash(copied)
	return err
}

func fileHash(path string) (sum string, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	size, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), size, err
}

// rowCounts counts the rows of our tables.
func rowCounts(ctx context.Context, db *sql.DB) (map[string]int64, error) {
	tables, err := texts(ctx, db, `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'goose_%' ORDER BY name`)
	if err != nil {
		return nil, err
	}
	counts := map[string]int64{}
	for _, table := range tables {
		var n int64
		if err := db.QueryRowContext(ctx, `SELECT COUNT(*) FROM "`+table+`"`).Scan(&n); err != nil {
			return nil, err
		}
		counts[table] = n
	}
	return counts, nil
}

func writeArchive(archive, copied string, m Manifest) (err error) {
	f, err := os.OpenFile(archive, os.O_WRONLY|os.O_CREATE|os.O_EXCL, privateMode)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	db, err := os.Open(copied)
	if err != nil {
		return err
	}
	defer db.Close()
	z, err := zstd.NewWriter(f, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return err
	}
	doc, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return errors.Join(err, z.Close())
	}
	t := tar.NewWriter(z)
	entry := func(name string, size int64, from io.Reader) error {
		if err := t.WriteHeader(&tar.Header{Name: name, Mode: privateMode, Size: size, ModTime: m.TakenAt}); err != nil {
			return err
		}
		_, err := io.Copy(t, from)
		return err
	}
	err = entry(manifestName, int64(len(doc)), bytes.NewReader(doc))
	if err == nil {
		err = entry(databaseName, m.Bytes, db)
	}
	return errors.Join(err, t.Close(), z.Close(), f.Sync())
}

// readArchive writes the database of a backup to w and compares it with the manifest. accept, if set, may refuse the manifest before.
func readArchive(archive string, accept func(Manifest) error, w io.Writer) (m Manifest, err error) {
	f, err := os.Open(archive)
	if err != nil {
		return m, err
	}
	defer f.Close()
	z, err := zstd.NewReader(f, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(256<<20))
	if err != nil {
		return m, err
	}
	defer z.Close()
	t := tar.NewReader(z)
	if h, err := t.Next(); err != nil || h.Name != manifestName || h.Size > maxManifest {
		return m, errors.Join(errors.New("this is not a backup of hotday"), err)
	}
	if err := json.NewDecoder(t).Decode(&m); err != nil {
		return m, fmt.Errorf("read the manifest: %w", err)
	}
	if m.Format > backupFormat {
		return m, fmt.Errorf("the backup has format %d, but this program only knows formats up to %d: use a newer hotday", m.Format, backupFormat)
	}
	if accept != nil {
		if err := accept(m); err != nil {
			return m, err
		}
	}
	if h, err := t.Next(); err != nil || h.Name != databaseName || h.Size != m.Bytes {
		return m, errors.Join(errors.New("the backup is incomplete or damaged: its database is missing"), err)
	}
	h := sha256.New()
	if _, err := io.Copy(io.MultiWriter(w, h), t); err != nil {
		return m, fmt.Errorf("the backup is incomplete or damaged, or the disk is full: %w", err)
	}
	if hex.EncodeToString(h.Sum(nil)) != m.SHA256 {
		return m, errors.New("the backup is damaged: its database is not the one that was backed up")
	}
	return m, nil
}

// syncDir makes a rename in a directory durable.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	_ = d.Sync() // not every system can
	return d.Close()
}
