// Package pgtest runs a PostgreSQL server for tests: one per test process, started at first use in a temporary folder, reached over a Unix
// socket, and without waiting for the disk. It ends with the process, or with Stop.
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// server is a running server.
type server struct {
	dir   string               // of its data and socket
	user  *syscall.SysProcAttr // as whom its programs run
	alive io.Closer            // closed: the server is stopped, even if this process dies
	ended chan struct{}        // closed at its end
}

var (
	starting sync.Mutex
	running  *server
	failed   error
)

// ErrMissing is the error where PostgreSQL is not installed.
var ErrMissing = errors.New("PostgreSQL is not installed (Debian: apt-get install postgresql)")

// start returns the server of this process.
func start(ctx context.Context) (*server, error) {
	starting.Lock()
	defer starting.Unlock()
	if running == nil && failed == nil {
		running, failed = startServer(ctx)
	}
	return running, failed
}

// Stop stops the server of this process, if it runs, and removes its files. Call it at the end of TestMain.
func Stop() {
	starting.Lock()
	defer starting.Unlock()
	if running != nil {
		_ = running.alive.Close()
		_ = <-running.ended
		_ = os.RemoveAll(running.dir)
		running, template = nil, ""
	}
}

// program finds a program of PostgreSQL, which Debian keeps out of PATH.
func program(name string) (string, error) {
	if path, err := exec.LookPath(name); err == nil {
		return path, nil
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if len(found) == 0 {
		return "", errors.Join(ErrMissing, err)
	}
	return slices.Max(found), nil
}

// untilClosed runs a server until standard input is closed, which happens at the latest when the test process dies.
const untilClosed = `"$0" "$@" </dev/null & pid=$!; read -r _; kill -QUIT $pid; wait $pid; exit 0`

func startServer(ctx context.Context) (*server, error) {
	dir, user, err := newFolder(ctx)
	if err != nil {
		return nil, err
	}
	s := &server{dir: dir, user: user}
	err = s.begin(ctx, filepath.Join(dir, "data"), "fsync=off", "full_page_writes=off", "shared_buffers=64MB", "max_connections=400", "autovacuum=off", "max_wal_size=4GB")
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return s, nil
}

// newFolder makes a folder with a data folder for a server in it, and returns as whom its programs run.
func newFolder(ctx context.Context) (dir string, user *syscall.SysProcAttr, err error) {
	initdb, err := program("initdb")
	if err != nil {
		return "", nil, err
	}
	if dir, err = os.MkdirTemp("", "pg"); err != nil { // short: the path of a socket has at most 107 bytes
		return "", nil, err
	}
	if user, err = ordinaryUser(dir); err == nil { // as root it refuses to run
		made := exec.CommandContext(ctx, initdb, "--pgdata", filepath.Join(dir, "data"), "--username", "hotday", "--auth", "trust", "--encoding", "UTF8",
			"--locale", "C", "--no-sync", "--no-instructions")
		made.Dir, made.SysProcAttr = dir, user
		var said []byte
		if said, err = made.CombinedOutput(); err != nil {
			err = fmt.Errorf("initdb: %w: %s", err, said)
		}
	}
	if err != nil {
		return "", nil, errors.Join(err, os.RemoveAll(dir))
	}
	return dir, user, nil
}

// begin starts the server on a data folder, with settings as in postgresql.conf, and waits until it answers.
func (s *server) begin(ctx context.Context, data string, settings ...string) error {
	postgres, err := program("postgres")
	if err != nil {
		return err
	}
	log, err := os.Create(filepath.Join(s.dir, "log"))
	if err != nil {
		return err
	}
	defer log.Close()
	args := []string{"-c", untilClosed, postgres, "-D", data, "-k", s.dir, "-c", "listen_addresses="}
	for _, setting := range settings {
		args = append(args, "-c", setting)
	}
	cmd := exec.Command("sh", args...) //nolint:noctx // it outlives the call
	cmd.Dir, cmd.SysProcAttr, cmd.Stdout, cmd.Stderr = s.dir, s.user, log, log
	if s.alive, err = cmd.StdinPipe(); err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	s.ended = make(chan struct{})
	go func() { _ = cmd.Wait(); close(s.ended) }()
	if err := s.ready(ctx); err != nil {
		said, _ := os.ReadFile(log.Name())
		return errors.Join(fmt.Errorf("PostgreSQL does not start: %w: %s", err, said), s.alive.Close())
	}
	return nil
}

// ready waits until the server answers.
func (s *server) ready(ctx context.Context) error {
	limit := time.Now().Add(2 * time.Minute)
	for {
		c, err := pgx.Connect(ctx, s.dsn("postgres"))
		if err == nil {
			return c.Close(ctx)
		}
		if time.Now().After(limit) {
			return err
		}
		select {
		case <-s.ended:
			return err
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (s *server) dsn(database string) string {
	return "postgres://hotday@/" + database + "?host=" + url.QueryEscape(s.dir)
}
