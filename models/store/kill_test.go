package store_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// victim is the program that the tests kill. It reports each step on standard output after completing it.
func victim(mode, path string) int {
	fmt.Println("start")
	s, err := store.Open(ctx, path, store.WithPoll(5*time.Millisecond))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	fmt.Println("open")
	switch mode {
	case "post":
		first, err := s.LastEventID(ctx, shop)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		var wg sync.WaitGroup
		for w := range int64(victimTills) {
			wg.Go(func() {
				for n := first + 1 + w; ; n += victimTills {
					if err := postWithEvent(s, n); err != nil {
						fmt.Fprintln(os.Stderr, err)
						os.Exit(1)
					}
					fmt.Println(n)
				}
			})
		}
		wg.Wait()
	case "work":
		if err := s.Run(ctx, map[string]models.Work{"event": addEvent}); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	return 0
}

const (
	victimTills = 3
	victimRows  = 60
)

func victimPost(n int64) models.SalesPost {
	p := models.SalesPost{Source: "till"}
	for i := range victimRows {
		from := t0.Add(time.Duration(n) * time.Minute)
		p.Counts = append(p.Counts, models.SalesCount{Item: fmt.Sprint("item ", i), WindowStart: from, WindowEnd: from.Add(time.Minute), Count: float64(n)})
	}
	return p
}

// postWithEvent stores a post, an event with its number and a job in one transaction.
func postWithEvent(s *store.Store, n int64) error {
	return s.Within(ctx, func(tx models.Store) error {
		if _, err := tx.PutCounts(ctx, shop, victimPost(n), t0, fmt.Sprint("post ", n), "h"); err != nil {
			return err
		}
		if _, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "stock", At: t0, Data: json.RawMessage(strconv.FormatInt(n, 10))}); err != nil {
			return err
		}
		_, err := tx.Enqueue(ctx, models.Job{Kind: "later", Site: shop, Key: fmt.Sprint(n)})
		return err
	})
}

// addEvent is work whose effect can be counted.
func addEvent(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	fmt.Println("working", j.Key)
	return func(tx models.Store) error {
		key, err := json.Marshal(j.Key)
		if err != nil {
			return err
		}
		_, err = tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "plan", At: t0, Data: key})
		fmt.Println("effect", j.Key)
		return err
	}, nil
}

// killAfter runs a victim, kills it with SIGKILL after a number of lines of output, and returns all lines that it wrote.
func killAfter(t *testing.T, mode, path string, lines int) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), "HOTDAY_STORE_VICTIM="+mode, "HOTDAY_STORE_DB="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	var written []string
	in := bufio.NewScanner(out)
	for len(written) < lines && in.Scan() {
		written = append(written, in.Text())
	}
	require.NoError(t, cmd.Process.Kill())
	for in.Scan() { // the rest of the pipe
		written = append(written, in.Text())
	}
	_, _ = io.Copy(io.Discard, out)
	require.Error(t, cmd.Wait(), "killed before it exited")
	return written
}

func TestAcknowledgedPostsSurviveKills(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	s, err := store.Open(ctx, path)
	require.NoError(t, err)
	_, _, err = s.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	chance := rand.New(rand.NewPCG(1, 2))
	acked := map[int64]bool{}
	whole := int64(0) // posts 1 to whole are stored
	for round := range 50 {
		for _, line := range killAfter(t, "post", path, chance.IntN(30)) {
			if n, err := strconv.ParseInt(line, 10, 64); err == nil {
				acked[n] = true
			}
		}
		s, err := store.Open(ctx, path)
		require.NoError(t, err, "round %d", round)
		stored := storedPosts(t, s, whole)
		for n := range acked {
			require.True(t, n <= whole || stored[n], "round %d: post %d was acknowledged but lost", round, n)
		}
		// The till resends unacknowledged posts; the next victim starts after the last event.
		last, err := s.LastEventID(ctx, shop)
		require.NoError(t, err)
		require.EqualValues(t, whole+int64(len(stored)), last, "round %d: one event for each post", round)
		whole = resend(t, s, stored, acked, whole)
		require.NoError(t, s.Close())
	}
	s, err = store.Open(ctx, path)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.Len(t, storedPosts(t, s, 0), len(acked), "all are stored in the end")
	for n := range acked {
		res, err := s.PutCounts(ctx, shop, victimPost(n), t0, fmt.Sprint("post ", n), "h")
		require.NoError(t, err)
		require.Equal(t, victimRows, res.New, "the stored result of the first post")
		added, err := s.Enqueue(ctx, models.Job{Kind: "later", Site: shop, Key: fmt.Sprint(n)})
		require.NoError(t, err)
		require.False(t, added, "its job was stored with it")
	}
	require.Greater(t, len(acked), 300)
	t.Logf("%d posts of %d rows acknowledged over 50 kills", len(acked), victimRows)
}

// storedPosts returns the numbers of the stored posts above after and requires each to be stored completely and once.
func storedPosts(t *testing.T, s *store.Store, after int64) map[int64]bool {
	t.Helper()
	rows := map[int64]int{}
	p := models.Page{Limit: models.MaxLimit}
	for {
		got, err := s.Counts(ctx, shop, models.SalesFilter{From: t0.Add(time.Duration(after+1) * time.Minute)}, p)
		require.NoError(t, err)
		for _, r := range got.Rows {
			n := int64(r.WindowStart.Sub(t0) / time.Minute)
			require.Equal(t, float64(n), r.Count)
			rows[n]++
		}
		if got.Next == nil {
			break
		}
		p.Cursor = *got.Next
	}
	out := map[int64]bool{}
	for n, k := range rows {
		require.Equal(t, victimRows, k, "post %d is incomplete or duplicated", n)
		out[n] = true
	}
	return out
}

// resend posts what the tills had started but not got acknowledged, which closes gaps in the numbers, and returns the highest number.
func resend(t *testing.T, s *store.Store, stored, acked map[int64]bool, whole int64) int64 {
	t.Helper()
	highest := whole
	for n := range stored {
		highest = max(highest, n)
	}
	for n := whole + 1; n <= highest; n++ {
		if !stored[n] {
			require.NoError(t, postWithEvent(s, n))
		}
		acked[n] = true
	}
	return highest
}

func TestStartAfterAKillDuringMigration(t *testing.T) {
	t.Parallel()
	for lines := range 8 {
		path := filepath.Join(t.TempDir(), "shop.db")
		for range 2 {
			killAfter(t, "open", path, min(lines, 1))
		}
		s, err := store.Open(ctx, path)
		require.NoError(t, err)
		_, _, err = s.PutSetup(ctx, setupOf(shop), "", t0)
		require.NoError(t, err)
		_, err = s.Enqueue(ctx, models.Job{Kind: "later", Site: shop, Key: "1"})
		require.NoError(t, err)
		require.NoError(t, s.Close())
	}
}

func TestKilledJobsTakeEffectOnce(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	s, err := store.Open(ctx, path)
	require.NoError(t, err)
	_, _, err = s.PutSetup(ctx, setupOf(shop), "", t0)
	require.NoError(t, err)
	const jobs = 200
	for n := range jobs {
		_, err := s.Enqueue(ctx, models.Job{Kind: "event", Site: shop, Key: fmt.Sprint(n)})
		require.NoError(t, err)
	}
	require.NoError(t, s.Close())
	chance := rand.New(rand.NewPCG(3, 4))
	for range 15 {
		killAfter(t, "work", path, 2+chance.IntN(15))
	}
	s, err = store.Open(ctx, path, store.WithPoll(5*time.Millisecond))
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	run, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- s.Run(run, map[string]models.Work{"event": addEvent}) }()
	deadline, stop := context.WithTimeout(ctx, time.Minute)
	defer stop()
	for {
		changed := s.Changed(shop)
		last, err := s.LastEventID(ctx, shop)
		require.NoError(t, err)
		if last >= jobs {
			break
		}
		select {
		case <-changed:
		case <-deadline.Done():
			t.Fatalf("%d of %d jobs done", last, jobs)
		}
	}
	cancel()
	require.NoError(t, <-ended)
	events, err := s.EventsAfter(ctx, shop, 0, 2*jobs)
	require.NoError(t, err)
	times := map[string]int{}
	for _, e := range events {
		times[string(e.Data)]++
	}
	require.Len(t, times, jobs)
	require.Len(t, events, jobs, "an effect came twice: %v", times)
}
