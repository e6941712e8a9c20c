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
	"time"

	"github.com/jackc/pgx/v5"
)

// server is a running server.
type server struct {
	dir   string
	alive io.Closer // closed: the server is stopped, even if this process dies
	ended chan error
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
		<-running.ended
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

func startServer(ctx context.Context) (s *server, err error) {
	initdb, err := program("initdb")
	if err != nil {
		return nil, err
	}
	postgres, err := program("postgres")
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "pg") // short: the path of a socket has at most 107 bytes
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	user, err := ordinaryUser(dir) // as root it refuses to run
	if err != nil {
		return nil, err
	}
	data := filepath.Join(dir, "data")
	made := exec.CommandContext(ctx, initdb, "--pgdata", data, "--username", "hotday", "--auth", "trust", "--encoding", "UTF8", "--locale", "C", "--no-sync", "--no-instructions")
	made.Dir, made.SysProcAttr = dir, user
	if said, err := made.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, said)
	}
	log, err := os.Create(filepath.Join(dir, "log"))
	if err != nil {
		return nil, err
	}
	defer log.Close()
	cmd := exec.Command("sh", "-c", untilClosed, postgres, "-D", data, "-k", dir, "-c", "listen_addresses=", "-c", "fsync=off", //nolint:noctx // it outlives the call
		"-c", "full_page_writes=off", "-c", "shared_buffers=64MB", "-c", "max_connections=400", "-c", "autovacuum=off", "-c", "max_wal_size=4GB")
	cmd.Dir, cmd.SysProcAttr, cmd.Stdout, cmd.Stderr = dir, user, log, log
	alive, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	s = &server{dir: dir, alive: alive, ended: make(chan error, 1)}
	go func() { s.ended <- cmd.Wait() }()
	if err := s.ready(ctx); err != nil {
		said, _ := os.ReadFile(log.Name())
		return nil, errors.Join(fmt.Errorf("PostgreSQL does not start: %w: %s", err, said), alive.Close())
	}
	return s, nil
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
		case e := <-s.ended:
			return errors.Join(err, e)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (s *server) dsn(database string) string {
	return "postgres://hotday@/" + database + "?host=" + url.QueryEscape(s.dir)
}
