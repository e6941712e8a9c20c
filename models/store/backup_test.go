package store

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// shopFile makes a database with a site and returns its path.
func shopFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	s, err := Open(ctx, path)
	require.NoError(t, err)
	_, _, err = s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return path
}

// leftInDir fails if there is anything else in the directory.
func leftInDir(t *testing.T, dir string, names ...string) {
	t.Helper()
	there, err := os.ReadDir(dir)
	require.NoError(t, err)
	got := []string{}
	for _, f := range there {
		got = append(got, f.Name())
	}
	require.ElementsMatch(t, names, got)
}

// Each till writes a count and an event in one transaction, so a consistent copy has as many of one as of the other.
func TestBackupUnderWriteLoadRestoresAConsistentState(t *testing.T) {
	t.Parallel()
	s := openFile(t, shopFile(t))
	var acknowledged atomic.Int64
	enough := make(chan struct{})
	load, stop := context.WithCancel(ctx)
	var tills sync.WaitGroup
	for till := range 3 {
		tills.Go(func() {
			for n := 0; load.Err() == nil; n++ {
				from := t0.Add(time.Duration(n) * time.Minute)
				err := s.Within(ctx, func(tx models.Store) error {
					if _, err := tx.PutCounts(ctx, "harbour", models.SalesPost{Source: fmt.Sprint("till ", till), Counts: []models.SalesCount{
						{Item: "a", WindowStart: from, WindowEnd: from.Add(time.Minute), Count: 1}}}, t0, "", ""); err != nil {
						return err
					}
					_, err := tx.AddEvent(ctx, models.LiveEvent{Site: "harbour", Kind: "stock", At: t0})
					return err
				})
				if err != nil {
					panic(err)
				}
				if acknowledged.Add(1) == 100 {
					close(enough)
				}
			}
		})
	}
	<-enough
	dir := t.TempDir()
	file, restored := filepath.Join(dir, "shop.tar.zst"), filepath.Join(dir, "restored.db")
	before := acknowledged.Load()
	m, err := Backup(ctx, s.dsn, file, "test", t0)
	stop()
	tills.Wait()
	require.NoError(t, err)
	leftInDir(t, dir, "shop.tar.zst")

	got, err := Restore(ctx, restored, file)
	require.NoError(t, err)
	require.Equal(t, m, got)
	leftInDir(t, dir, "shop.tar.zst", "restored.db")
	r := openFile(t, restored)
	var counts, events int64
	require.NoError(t, r.readDB.QueryRow("SELECT COUNT(*) FROM sales_counts").Scan(&counts))
	require.NoError(t, r.readDB.QueryRow("SELECT COUNT(*) FROM live_events").Scan(&events))
	require.GreaterOrEqual(t, counts, before, "what was acknowledged before the backup began is in it")
	require.Equal(t, counts, events, "no transaction is half in it")
	require.Equal(t, m.Rows["sales_counts"], counts)
	last, err := r.LastEventID(ctx, "harbour")
	require.NoError(t, err)
	require.Equal(t, events, last)
}

func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	path := shopFile(t)
	good := filepath.Join(t.TempDir(), "good.tar.zst")
	_, err := Backup(ctx, path, good, "test", t0)
	require.NoError(t, err)
	whole, err := os.ReadFile(good)
	require.NoError(t, err)
	newer := shopFile(t)
	db, err := openPlain(newer)
	require.NoError(t, err)
	_, err = db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	newerFile := filepath.Join(t.TempDir(), "newer.tar.zst")
	_, err = Backup(ctx, newer, newerFile, "test", t0)
	require.NoError(t, err, "a program of an earlier version can take a backup before it is upgraded")
	newerBytes, err := os.ReadFile(newerFile)
	require.NoError(t, err)
	flipped := bytes.Clone(whole)
	flipped[len(flipped)/2] ^= 1

	for name, c := range map[string]struct {
		backup []byte
		there  string // a file in the way
		want   string
	}{
		"an existing database":         {whole, "new.db", "exists already and is not overwritten"},
		"the log of an earlier one":    {whole, "new.db-wal", "move it away first"},
		"another file":                 {[]byte("not a backup"), "", "not a backup"},
		"an empty file":                {nil, "", "not a backup"},
		"a backup that is cut off":     {whole[:len(whole)-200], "", "restore"},
		"a backup with a changed byte": {flipped, "", "restore"},
		"a newer schema":               {newerBytes, "", "schema version 9999, but this program only knows versions up to"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			file, to := filepath.Join(dir, "backup"), filepath.Join(dir, "new.db")
			require.NoError(t, os.WriteFile(file, c.backup, 0o600))
			left := []string{"backup"}
			if c.there != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, c.there), []byte("precious"), 0o600))
				left = append(left, c.there)
			}
			_, err := Restore(ctx, to, file)
			require.ErrorContains(t, err, c.want)
			leftInDir(t, dir, left...)
			if c.there != "" {
				kept, err := os.ReadFile(filepath.Join(dir, c.there))
				require.NoError(t, err)
				require.Equal(t, "precious", string(kept))
			}
		})
	}
}

func TestRestoreMigratesAnOlderSchema(t *testing.T) {
	t.Parallel()
	d := sqliteDialect()
	path := filepath.Join(t.TempDir(), "old.db")
	old, err := sql.Open(DriverName, sqliteURI(path))
	require.NoError(t, err)
	p, err := goose.NewProvider(d.goose, old, d.migrations, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
	require.NoError(t, err)
	_, err = p.UpTo(ctx, 1)
	require.NoError(t, err)
	require.NoError(t, d.river.migrate(ctx, old))
	_, err = old.Exec(versionData[1])
	require.NoError(t, err)
	require.NoError(t, old.Close())

	file, to := filepath.Join(t.TempDir(), "old.tar.zst"), filepath.Join(t.TempDir(), "new.db")
	m, err := Backup(ctx, path, file, "test", t0)
	require.NoError(t, err)
	require.EqualValues(t, 1, m.Schema, "a backup does not migrate")
	_, err = Restore(ctx, to, file)
	require.NoError(t, err)
	s := openFile(t, to)
	got, err := s.Counts(ctx, "harbour", models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, "flash", *got.Rows[0].Drink)
}

func TestBackupOfADamagedDatabaseLeavesTheLastOne(t *testing.T) {
	t.Parallel()
	path, file := shopFile(t), filepath.Join(t.TempDir(), "shop.tar.zst")
	_, err := Backup(ctx, path, file, "test", t0)
	require.NoError(t, err)
	good, err := os.ReadFile(file)
	require.NoError(t, err)
	db, err := openPlain(path)
	require.NoError(t, err)
	_, err = db.Exec("DELETE FROM sites") // the set-up refers to it
	require.NoError(t, err)
	require.NoError(t, db.Close())

	_, err = Backup(ctx, path, file, "test", t0)
	require.ErrorContains(t, err, "refers to a missing row of sites")
	now, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, good, now)
	leftInDir(t, filepath.Dir(file), "shop.tar.zst")

	found, err := Check(ctx, path, "")
	require.NoError(t, err)
	require.Equal(t, FindingFault, found[0].Level)
	require.Contains(t, found[0].Text, "refers to a missing row of sites")
}

func TestBackupReplacesOnlyBackups(t *testing.T) {
	t.Parallel()
	path := shopFile(t)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = Backup(ctx, path, path, "test", t0)
	require.ErrorContains(t, err, "is not a backup")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)

	_, err = Backup(ctx, filepath.Join(t.TempDir(), "none.db"), filepath.Join(t.TempDir(), "x"), "test", t0)
	require.ErrorIs(t, err, os.ErrNotExist)
}

func TestRotationKeepsDaysAndWeeks(t *testing.T) {
	t.Parallel()
	r := Rotation{Daily: 3, Weekly: 2}
	names := []string{"shop.db", "notes.txt", "other-20260601T023000Z.tar.zst", "shop-20260601.tar.zst"}
	start := time.Date(2026, 7, 1, 2, 30, 0, 0, time.UTC) // a Wednesday
	for day := range 20 {
		names = append(names, "shop-"+start.AddDate(0, 0, day).Format(backupStamp)+".tar.zst")
	}
	names = append(names, "shop-20260720T120000Z.tar.zst") // a second one on the last day, a Monday
	gone := map[string]bool{}
	for _, name := range r.outdated("shop", names) {
		gone[name] = true
	}
	var kept []string
	for _, name := range names {
		if !gone[name] {
			kept = append(kept, name)
		}
	}
	require.Equal(t, []string{"shop.db", "notes.txt", "other-20260601T023000Z.tar.zst", "shop-20260601.tar.zst",
		"shop-20260718T023000Z.tar.zst", // the third day, not a week's newest
		"shop-20260719T023000Z.tar.zst", // the second day, and the newest of its week
		"shop-20260720T120000Z.tar.zst"}, kept)
	require.Empty(t, Rotation{}.outdated("shop", []string{"shop-20260720T120000Z.tar.zst"}), "the newest always stays")
}

func TestBackupToRotates(t *testing.T) {
	t.Parallel()
	now := t0
	s, err := Open(ctx, shopFile(t), WithClock(func() time.Time { return now }))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	dir := t.TempDir()
	for range 3 {
		_, err := s.BackupTo(ctx, dir, "test", Rotation{Daily: 2})
		require.NoError(t, err)
		now = now.AddDate(0, 0, 1)
	}
	leftInDir(t, dir, "shop-20260711T150000Z.tar.zst", "shop-20260712T150000Z.tar.zst")
}

func TestFilesArePrivate(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	path := filepath.Join(t.TempDir(), "shop.db")
	s, err := Open(ctx, path, WithLogger(slog.New(slog.NewTextHandler(&log, nil))))
	require.NoError(t, err)
	_, _, err = s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	file, restored := filepath.Join(t.TempDir(), "b.tar.zst"), filepath.Join(t.TempDir(), "r.db")
	_, err = Backup(ctx, path, file, "test", t0)
	require.NoError(t, err)
	_, err = Restore(ctx, restored, file)
	require.NoError(t, err)
	for _, name := range []string{path, path + "-wal", path + "-shm", path + "-migrate", file, restored} {
		there, err := os.Stat(name)
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), there.Mode().Perm(), name)
	}
	require.NoError(t, s.Close())
	require.NotContains(t, log.String(), "others can open")

	require.NoError(t, os.Chmod(path, 0o644))
	s, err = Open(ctx, path, WithLogger(slog.New(slog.NewTextHandler(&log, nil))))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.Contains(t, log.String(), "others can open "+path+" (mode 0644): chmod 600")
	found, err := Check(ctx, path, "")
	require.NoError(t, err)
	var warned bool
	for _, f := range found {
		warned = warned || (f.Level == FindingWarning && strings.Contains(f.Text, "chmod 600"))
	}
	require.True(t, warned)
}

func TestCheckSaysWhetherTheSchemaIsKnown(t *testing.T) {
	t.Parallel()
	path := shopFile(t)
	schema := func() Finding {
		list, err := Check(ctx, path, "")
		require.NoError(t, err)
		for _, f := range list {
			if f.Subject == "schema" {
				return f
			}
		}
		t.Fatal("no finding about the schema")
		return Finding{}
	}
	require.Equal(t, FindingOK, schema().Level)
	db, err := openPlain(path)
	require.NoError(t, err)
	_, err = db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
	require.NoError(t, err)
	require.Equal(t, FindingOK, schema().Level)
	require.Contains(t, schema().Text, "a newer program has migrated it, which this one can use")
	_, err = db.Exec("UPDATE least_schema SET version = 9999")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.Equal(t, FindingFault, schema().Level)
	require.Contains(t, schema().Text, "use a newer hotday")

	_, err = Check(ctx, filepath.Join(t.TempDir(), "none.db"), "")
	require.ErrorIs(t, err, os.ErrNotExist)
}
