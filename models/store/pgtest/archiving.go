package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Archiving is a server of its own that waits for the disk and archives its write-ahead log, for tests of recovery.
type Archiving struct {
	*server
	Archive string // the folder of the archived log
}

// Archive starts a server on a new data folder, with the database hotday. It ends with the test. Without PostgreSQL the test is skipped, or
// fails if HOTDAY_REQUIRE_TOOLS is set.
func Archive(t testing.TB) *Archiving {
	t.Helper()
	a := &Archiving{}
	a.run(t, "archive_mode=on", "archive_command=test ! -f ../archive/%f && cp %p ../archive/%f.part && mv ../archive/%f.part ../archive/%f")
	if err := a.exec("CREATE DATABASE hotday"); err != nil {
		t.Fatal(err)
	}
	return a
}

// DSN returns the URL of the database.
func (a *Archiving) DSN() string { return a.dsn("hotday") }

// BaseBackup copies the data folder while the server runs, without the log, and returns the copy.
func (a *Archiving) BaseBackup(t testing.TB) string {
	t.Helper()
	backup, err := program("pg_basebackup")
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(a.dir, "base")
	cmd := exec.CommandContext(t.Context(), backup, "--pgdata", to, "--checkpoint=fast", "--wal-method=none", "--no-manifest", "--host", a.dir, "--username", "hotday")
	cmd.Dir, cmd.SysProcAttr = a.dir, a.user
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("pg_basebackup: %v: %s", err, said)
	}
	return to
}

// Now returns the server's clock.
func (a *Archiving) Now(t testing.TB) (now time.Time) {
	t.Helper()
	a.ask(t, "SELECT clock_timestamp()", &now)
	return now
}

// Lose archives what was written so far and stops the server at once. Its data folder is gone.
func (a *Archiving) Lose(t testing.TB) {
	t.Helper()
	var segment string
	a.ask(t, "SELECT pg_walfile_name(pg_switch_wal())", &segment)
	for limit := time.Now().Add(2 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(a.Archive, segment)); err == nil {
			break
		} else if time.Now().After(limit) {
			t.Fatalf("the log %s is not archived: %v", segment, err)
		}
	}
	_ = a.alive.Close()
	<-a.ended
	if err := os.RemoveAll(filepath.Join(a.dir, "data")); err != nil {
		t.Fatal(err)
	}
}

// Recover starts a server on a base backup, which it brings forward to a moment by the archived log.
func (a *Archiving) Recover(t testing.TB, base string, to time.Time) *Archiving {
	t.Helper()
	signal := filepath.Join(base, "recovery.signal")
	if err := os.WriteFile(signal, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := a.own(signal); err != nil {
		t.Fatal(err)
	}
	b := &Archiving{server: &server{dir: a.dir, user: a.user}, Archive: a.Archive}
	b.serve(t, base, "restore_command=cp ../archive/%f %p", "recovery_target_time="+to.UTC().Format("2006-01-02 15:04:05.000000+00"), "recovery_target_action=promote")
	for limit := time.Now().Add(2 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
		var recovering bool
		if b.ask(t, "SELECT pg_is_in_recovery()", &recovering); !recovering {
			return b
		}
		if time.Now().After(limit) {
			t.Fatal("the server is still recovering")
		}
	}
}

// run makes a data folder and serves it.
func (a *Archiving) run(t testing.TB, settings ...string) {
	t.Helper()
	dir, user, err := newFolder(t.Context())
	if errors.Is(err, ErrMissing) && os.Getenv("HOTDAY_REQUIRE_TOOLS") != "1" {
		t.Skipf("SKIPPED: %v", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	a.server, a.Archive = &server{dir: dir, user: user}, filepath.Join(dir, "archive")
	if err := os.Mkdir(a.Archive, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := a.own(a.Archive); err != nil {
		t.Fatal(err)
	}
	a.serve(t, filepath.Join(dir, "data"), settings...)
}

func (a *Archiving) serve(t testing.TB, data string, settings ...string) {
	t.Helper()
	if err := a.begin(t.Context(), data, settings...); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = a.alive.Close()
		<-a.ended
	})
}

func (a *Archiving) ask(t testing.TB, query string, out any) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	c, err := pgx.Connect(ctx, a.dsn("postgres"))
	if err == nil {
		err = errors.Join(c.QueryRow(ctx, query).Scan(out), c.Close(ctx))
	}
	if err != nil {
		t.Fatal(fmt.Errorf("%s: %w", query, err))
	}
}
