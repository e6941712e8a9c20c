//go:build unix

package deploy_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// slowDisk makes each write of a process take as long to be safe on disk, until stop.
func slowDisk(t *testing.T, pid int, delay time.Duration) (stop func()) {
	t.Helper()
	strace := needs(t, "strace", "it slows the disk of one process down (Debian: strace)")
	if err := exec.Command(strace, "-f", "-e", "trace=fsync", "true").Run(); err != nil {
		without(t, "the right to trace processes", "strace slows the disk of one process down")
	}
	cmd := exec.Command(strace, "-f", "-qq", "-o", os.DevNull, "-e", "trace=fsync,fdatasync",
		"-e", fmt.Sprintf("inject=fsync,fdatasync:delay_enter=%d", delay.Microseconds()), "-p", strconv.Itoa(pid))
	require.NoError(t, cmd.Start())
	traced := func() bool {
		status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
		return err == nil && !strings.Contains(string(status), "TracerPid:\t0\n")
	}
	require.Eventually(t, traced, time.Minute, 5*time.Millisecond)
	stop = sync.OnceFunc(func() {
		_ = cmd.Process.Signal(os.Interrupt) // the trace ends, the process goes on
		_ = cmd.Wait()
	})
	t.Cleanup(stop)
	return stop
}

// With a slow disk every till is answered in the end, and what was answered is stored once. Reading does not wait for a write that
// hangs.
func TestSlowDiskDelaysWritingOnly(t *testing.T) {
	t.Parallel()
	s := serve(t, nil, "")
	stop := slowDisk(t, s.cmd.Process.Pid, 100*time.Millisecond)
	counts := "/v1/sites/" + s.site + "/sales-counts"
	start := time.Now().UTC().AddDate(0, 0, -3).Truncate(time.Hour)
	post := func(till, n int) {
		from := start.Add(time.Duration(n) * time.Minute)
		res, body := s.send(t, http.MethodPost, counts, map[string]any{"source": fmt.Sprint("till-", till),
			"counts": []any{map[string]any{"item": "GLASS", "window_start": from, "window_end": from.Add(time.Minute), "count": n + 1}}})
		if res.StatusCode != http.StatusOK {
			t.Errorf("%d %s", res.StatusCode, body)
		}
	}
	const tills, posts = 8, 5
	var users sync.WaitGroup
	began := time.Now()
	for till := range tills {
		users.Go(func() {
			for n := range posts {
				post(till, n)
			}
		})
	}
	users.Wait()
	t.Logf("%d posts of %d tills in %v, with 100 ms for each write to be safe", tills*posts, tills, time.Since(began).Round(time.Millisecond))
	stop()

	stop = slowDisk(t, s.cmd.Process.Pid, 30*time.Second)
	written := make(chan struct{})
	go func() { defer close(written); post(tills, 0) }()
	for range 20 {
		res, _ := s.send(t, http.MethodGet, counts+"?limit=1", nil)
		require.Equal(t, http.StatusOK, res.StatusCode)
	}
	select {
	case <-written:
		t.Error("the write that hangs was answered before 20 reads were")
	default:
	}
	stop()
	<-written
	_, body := s.send(t, http.MethodGet, counts+"?limit=1000", nil)
	var list struct{ Rows []struct{ Count float64 } }
	require.NoError(t, json.Unmarshal([]byte(body), &list))
	require.Len(t, list.Rows, tills*posts+1)
	s.stop(syscall.SIGTERM)
}

// A database that the service may not write is named at the start, before anything else happens.
func TestServeNamesADatabaseThatItMayNotWrite(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp("", "hotday-read-only-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.Chmod(dir, 0o700); _ = os.RemoveAll(dir) })
	db := filepath.Join(dir, "hotday.db")
	_, _, exit := hotday(t, "", "token", "new", "--db", db, "--scope", "manage", "--name", "me")
	require.Zero(t, exit)
	program := filepath.Join(dir, "hotday")
	data, err := os.ReadFile(binary)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(program, data, 0o755))
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, f := range files {
		if f.Name() != "hotday" {
			require.NoError(t, os.Chmod(filepath.Join(dir, f.Name()), 0o444))
		}
	}
	require.NoError(t, os.Chmod(dir, 0o555))
	cmd := exec.Command(program, "serve", "--db", db, "--listen", "127.0.0.1:0")
	if os.Getuid() == 0 { // root may write anything
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	out, err := cmd.CombinedOutput()
	require.Error(t, err)
	require.Contains(t, string(out), db)
	require.Regexp(t, `read.?only|may not|permission`, string(out))
}
