package api_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

const (
	benchScreens = 100
	benchIdle    = 15 * time.Second // one heartbeat per screen
	boardsInIdle = 5                // 100 screens each fetch the board every five minutes
	streamBuffer = 4096             // bytes
)

// BenchmarkHundredScreens opens 100 live streams of paired screens over loopback and lets them idle (a heartbeat every 15 s, the board
// every five minutes). It reports the share of one core used while idle, the memory per screen (heap and stacks, including the
// benchmark's client side), and the time until a mark has reached all screens.
func BenchmarkHundredScreens(b *testing.B) {
	s := newBundle(b)
	s.setUp("quay")
	s.put("/v1/sites/quay/expected-demand", map[string]any{"rows": []any{map[string]any{"date": "2026-07-11", "day_part": "afternoon", "drink": "iced", "expected": 90}}}).is(200)
	s.post("/v1/sites/quay/plans", map[string]any{"from": "2026-07-11", "days": 1, "now": "2026-07-10T15:00:00+02:00"}).is(201)
	s.post("/v1/sites/quay/plans/1/publish", nil).is(200)
	var keys []string
	for i := range benchScreens {
		keys = append(keys, s.pairedScreen(b, fmt.Sprintf("screen %d", i)))
	}
	board := func(key string) {
		a := s.do(call{method: "GET", path: "/s/quay/kitchen?part=board", token: key})
		require.Equal(b, http.StatusOK, a.status, "%s", a.body)
	}
	board(keys[0]) // warm up
	for b.Loop() {
		before := memoryInUse()
		var lines []*bufio.Reader
		for _, key := range keys {
			lines = append(lines, openStream(b, strings.TrimPrefix(s.base, "http://"), key))
		}
		for _, l := range lines {
			until(b, l, "event: hello")
		}
		b.ReportMetric(float64(memoryInUse()-before)/1024/benchScreens, "KiB/screen")

		clock, used := time.Now(), processTime(b)
		for i := range boardsInIdle {
			<-time.After(benchIdle / boardsInIdle)
			board(keys[i])
		}
		b.ReportMetric(100*(processTime(b)-used).Seconds()/time.Since(clock).Seconds(), "%core-idle")

		start := time.Now()
		_, err := s.store.AddEvent(context.Background(), models.LiveEvent{Site: "quay", Kind: "mark", At: s.clock.Now()})
		require.NoError(b, err)
		for _, l := range lines {
			until(b, l, "event: mark")
		}
		b.ReportMetric(float64(time.Since(start).Microseconds())/1000, "ms/mark-to-all")
	}
}

// pairedScreen pairs a screen and returns its token.
func (b *bundle) pairedScreen(t testing.TB, name string, stations ...string) string {
	t.Helper()
	ctx := context.Background()
	p, secret, err := b.store.BeginPairing(ctx, b.clock.Now())
	require.NoError(t, err)
	_, err = b.store.PairScreen(ctx, p.Code, models.Screen{Name: name, Site: "quay", Stations: stations}, b.clock.Now())
	require.NoError(t, err)
	_, key, paired, err := b.store.ClaimPairing(ctx, p.ID, secret, true, b.clock.Now())
	require.NoError(t, err)
	require.True(t, paired)
	return key
}

// openStream opens a live stream with a minimal client, so that the benchmark measures the service.
func openStream(t testing.TB, address, key string) *bufio.Reader {
	t.Helper()
	c, err := net.Dial("tcp", address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	_, err = io.WriteString(c, "GET /v1/sites/quay/live HTTP/1.1\r\nHost: "+address+"\r\nAuthorization: Bearer "+key+"\r\n\r\n")
	require.NoError(t, err)
	return bufio.NewReaderSize(c, streamBuffer)
}

func until(t testing.TB, r *bufio.Reader, line string) {
	t.Helper()
	for {
		s, err := r.ReadString('\n')
		require.NoError(t, err)
		if strings.TrimSpace(s) == line {
			return
		}
	}
}

// memoryInUse is the process's heap and stacks in bytes.
func memoryInUse() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc + m.StackInuse)
}

func processTime(t testing.TB) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
