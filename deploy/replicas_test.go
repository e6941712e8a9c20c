package deploy_test

import (
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models/store"
	"hotday/models/store/pgtest"
)

// TestReplicasKeepTheirPromises runs three processes on one PostgreSQL database, kills them and cuts their connections to it again and again
// while tills, kitchens and managers use any of them, and then compares what is stored and was sent with what was acknowledged.
// HOTDAY_KILLS is how often.
func TestReplicasKeepTheirPromises(t *testing.T) {
	t.Parallel()
	times := 8
	if testing.Short() {
		times = 3
	}
	if n, err := strconv.Atoi(os.Getenv("HOTDAY_KILLS")); err == nil {
		times = n
	}
	db := serverDatabase(t)
	var lines []*line
	var dsns []string
	for range 3 {
		l := newLine(t)
		lines = append(lines, l)
		dsns = append(dsns, "postgres://hotday@"+l.address()+"/"+db[strings.LastIndex(db, "/")+1:strings.Index(db, "?")]+"?sslmode=disable")
	}
	s := startStorm(t, binary, db, dsns, "--secret-file", filepath.Join(t.TempDir(), "secrets.key"))
	chance := rand.New(rand.NewPCG(7, 8))
	kills, cuts := 0, 0
	for n := range times {
		time.Sleep(time.Duration(100+chance.IntN(2000)) * time.Millisecond)
		i := chance.IntN(len(lines))
		if n%2 == 0 {
			s.kill(s.served[i])
			kills++
			continue
		}
		lines[i].cut()
		s.ready(s.served[i], http.StatusServiceUnavailable)
		lines[i].mend()
		s.ready(s.served[i], http.StatusOK)
		cuts++
		if t.Failed() {
			break
		}
	}
	s.end()
	s.compare(fmt.Sprintf("%d kills and %d cuts of 3 replicas", kills, cuts))
}

// serverDatabase returns the URL of a new database of a PostgreSQL server.
func serverDatabase(t *testing.T) string {
	return pgtest.Database(t, func(dsn string) error {
		s, err := store.Open(t.Context(), dsn)
		if err != nil {
			return err
		}
		return s.Close()
	})
}

// ready waits until /readyz of a replica answers with a status.
func (s *storm) ready(r *replica, want int) {
	s.t.Helper()
	status := 0
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		res, err := s.client.Get(r.address + "/readyz")
		if err != nil {
			continue
		}
		_ = res.Body.Close()
		if status = res.StatusCode; status == want {
			return
		}
	}
	s.t.Errorf("%s/readyz answers %d, not %d", r.address, status, want)
}

// line is a network connection to the database server that can be cut.
type line struct {
	listener net.Listener
	server   string

	mu    sync.Mutex
	off   bool
	conns map[net.Conn]bool
}

func newLine(t *testing.T) *line {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	l := &line{listener: listener, server: pgtest.Socket(t), conns: map[net.Conn]bool{}}
	var carried sync.WaitGroup
	carried.Go(func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			carried.Go(func() { l.carry(c) })
		}
	})
	t.Cleanup(func() {
		_ = listener.Close()
		l.cut()
		carried.Wait()
	})
	return l
}

func (l *line) address() string { return l.listener.Addr().String() }

// carry connects a client with the server until one of them ends it or the line is cut.
func (l *line) carry(client net.Conn) {
	server, err := net.Dial("unix", l.server)
	if err != nil {
		_ = client.Close()
		return
	}
	if !l.add(client, server) {
		return
	}
	var both sync.WaitGroup
	both.Go(func() { _, _ = io.Copy(server, client); _ = server.Close() })
	both.Go(func() { _, _ = io.Copy(client, server); _ = client.Close() })
	both.Wait()
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.conns, client)
	delete(l.conns, server)
}

// add notes connections, or closes them if the line is cut.
func (l *line) add(conns ...net.Conn) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range conns {
		if l.off {
			_ = c.Close()
		} else {
			l.conns[c] = true
		}
	}
	return !l.off
}

// cut ends all connections and lets no new ones through until mend.
func (l *line) cut() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.off = true
	for c := range l.conns {
		_ = c.Close()
	}
	clear(l.conns)
}

func (l *line) mend() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.off = false
}

func TestServingPostgreSQLNeedsAKeyFile(t *testing.T) {
	t.Parallel()
	db := serverDatabase(t)
	out, err := exec.Command(binary, "serve", "--db", db, "--listen", "127.0.0.1:0").CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "--secret-file is needed with PostgreSQL")
	out, err = exec.Command(binary, "serve", "--db", db, "--secret-file", filepath.Join(t.TempDir(), "k"), "--backup-to", t.TempDir()).CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), "pg_dump")
}
