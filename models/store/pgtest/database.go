package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

var (
	making   sync.Mutex
	template string // the database that others are copies of; "": none yet
	count    atomic.Int64
)

// Database returns the URL of a new database, which is removed after the test. The first is filled by migrate, and the others are copies of
// it. Without PostgreSQL the test is skipped, or fails if HOTDAY_REQUIRE_TOOLS is set.
func Database(t testing.TB, migrate func(dsn string) error) string {
	t.Helper()
	s, err := start(context.WithoutCancel(t.Context()))
	if errors.Is(err, ErrMissing) && os.Getenv("HOTDAY_REQUIRE_TOOLS") != "1" {
		t.Skipf("SKIPPED: %v", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	name := fmt.Sprintf("t%d", count.Add(1))
	if err := s.create(name, migrate); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.exec("DROP DATABASE " + name + " WITH (FORCE)"); err != nil {
			t.Error(err)
		}
	})
	return s.dsn(name)
}

// Empty returns the URL of a new database without a schema.
func Empty(t testing.TB) string {
	t.Helper()
	return Database(t, nil)
}

// Socket returns the path of the server's socket, for tests that stand between it and the program.
func Socket(t testing.TB) string {
	t.Helper()
	s, err := start(context.WithoutCancel(t.Context()))
	if err != nil {
		t.Fatal(err)
	}
	return s.dir + "/.s.PGSQL.5432"
}

func (s *server) create(name string, migrate func(dsn string) error) error {
	if migrate == nil {
		return s.exec("CREATE DATABASE " + name + " TEMPLATE template0")
	}
	making.Lock() // nobody may be connected to a template
	defer making.Unlock()
	if template == "" {
		const first = "hotday_template"
		if err := s.exec("CREATE DATABASE " + first + " TEMPLATE template0"); err != nil {
			return err
		}
		if err := migrate(s.dsn(first)); err != nil {
			return err
		}
		template = first
	}
	var err error
	for range 50 { // connections that were closed may take a moment to end
		if err = s.exec("CREATE DATABASE " + name + " TEMPLATE " + template); err == nil {
			return nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	return err
}

func (s *server) exec(statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	c, err := pgx.Connect(ctx, s.dsn("postgres"))
	if err != nil {
		return err
	}
	_, err = c.Exec(ctx, statement)
	return errors.Join(err, c.Close(ctx))
}
