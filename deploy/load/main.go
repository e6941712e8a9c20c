// Command load runs a service on this machine under the load of many shops for a while and prints how long its answers took: tills
// that post counts, wall screens with live streams, people who read. It starts the service itself, on loopback and an empty database in
// a temporary folder, and stops it at the end.
//
//	go build -o hotday . && go run ./deploy/load -for 60s ./hotday
package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"maps"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"hotday/deploy/loopback"
)

type options struct {
	binary  string
	length  time.Duration
	shops   int
	counts  int // a second, of all tills
	a       int // counts in a post
	screens int
	reads   int // a second
	request string
}

func main() {
	var o options
	flag.DurationVar(&o.length, "for", time.Minute, "how long")
	flag.IntVar(&o.shops, "shops", 50, "shops")
	flag.IntVar(&o.counts, "counts", 2000, "sales counts a second")
	flag.IntVar(&o.a, "a-post", 20, "sales counts in one post")
	flag.IntVar(&o.screens, "screens", 500, "live screens")
	flag.IntVar(&o.reads, "reads", 50, "reads a second")
	flag.StringVar(&o.request, "request", filepath.Join("testdata", "requests", "one-day.json"), "plan request whose shop to use")
	flag.Parse()
	if flag.NArg() != 1 || o.shops < 1 || o.a < 1 || o.length <= 0 || o.length > time.Hour {
		fmt.Fprintln(os.Stderr, "usage: load [flags] HOTDAY (the built program); -for is at most 1h")
		os.Exit(2)
	}
	o.binary = flag.Arg(0)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, o); err != nil {
		log.Fatal(err)
	}
}

// load is a service under load.
type load struct {
	options
	address, key string
	client       *http.Client

	mu    sync.Mutex
	took  map[string][]time.Duration // by what was asked
	wrong map[string]int             // answers that are no success, by what was asked

	open   atomic.Int64 // streams
	events atomic.Int64
	late   atomic.Int64 // posts that could not be sent on time
}

func run(ctx context.Context, o options) (err error) {
	service, err := loopback.Start(o.binary)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, service.Stop()) }()
	key, err := service.Key(ctx, "manage")
	if err != nil {
		return err
	}
	x := &load{options: o, address: service.Address, key: key, took: map[string][]time.Duration{}, wrong: map[string]int{},
		client: &http.Client{Timeout: time.Minute, Transport: &http.Transport{MaxIdleConnsPerHost: 200}}}
	if err := x.openShops(ctx); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if err := x.openScreens(ctx, strings.TrimPrefix(x.address, "http://")); err != nil {
		return err
	}
	used := service.ProcessTime()
	began := time.Now()
	x.under(ctx)
	fmt.Printf("%v of %d counts/s in posts of %d, %d screens at %d shops, %d reads/s; the service used %.0f %% of one core, at most %s of memory\n",
		time.Since(began).Round(time.Second), o.counts, o.a, x.open.Load(), o.shops, o.reads,
		100*(service.ProcessTime()-used).Seconds()/time.Since(began).Seconds(), service.PeakMemory())
	fmt.Printf("events that reached screens: %d; posts that were due and not sent, since all tills waited: %d\n", x.events.Load(), x.late.Load())
	x.print()
	return nil
}

// send sends a request and notes how long the answer took, under the name of what was asked, if it has one.
func (x *load) send(ctx context.Context, what, method, path string, body any) ([]byte, error) {
	var data []byte
	if body != nil {
		var err error
		if data, err = json.Marshal(body); err != nil {
			return nil, err
		}
	}
	req, err := http.NewRequestWithContext(ctx, method, x.address+path, bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	req.Header.Set("Authorization", "Bearer "+x.key)
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	began := time.Now()
	res, err := x.client.Do(req)
	if err != nil {
		x.note(what, 0, false)
		return nil, err
	}
	defer res.Body.Close()
	answer, err := io.ReadAll(res.Body)
	good := err == nil && res.StatusCode < 300
	x.note(what, time.Since(began), good)
	if !good {
		return answer, fmt.Errorf("%s %s: %d %.300s", method, path, res.StatusCode, answer)
	}
	return answer, nil
}

func (x *load) note(what string, took time.Duration, good bool) {
	if what == "" {
		return
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	if !good {
		x.wrong[what]++
		return
	}
	x.took[what] = append(x.took[what], took)
}

func (x *load) site(n int) string { return fmt.Sprintf("/v1/sites/shop-%d", n%x.shops) }

// openShops sets the shops up and publishes a sheet for each.
func (x *load) openShops(ctx context.Context) error {
	data, err := os.ReadFile(x.request)
	if err != nil {
		return err
	}
	var r map[string]any
	if err := json.Unmarshal(data, &r); err != nil {
		return err
	}
	for n := range x.shops {
		setup := loopback.SetupOf(r)
		site := maps.Clone(r["site"].(map[string]any))
		site["code"] = strings.TrimPrefix(x.site(n), "/v1/sites/")
		setup["site"] = site
		if _, err := x.send(ctx, "", http.MethodPut, x.site(n)+"/setup", setup); err != nil {
			return err
		}
		if _, err := x.send(ctx, "", http.MethodPut, x.site(n)+"/expected-demand", map[string]any{"rows": r["demand"]}); err != nil {
			return err
		}
		if _, err := x.send(ctx, "", http.MethodPost, x.site(n)+"/plans", map[string]any{"from": r["from"], "days": 1, "now": r["now"]}); err != nil {
			return err
		}
		if _, err := x.send(ctx, "", http.MethodPost, x.site(n)+"/plans/1/publish", map[string]any{}); err != nil {
			return err
		}
	}
	return nil
}

// openScreens opens the live streams, with a key for each shop's screens.
func (x *load) openScreens(ctx context.Context, address string) error {
	keys := make([]string, x.shops)
	for n := range keys {
		answer, err := x.send(ctx, "", http.MethodPost, "/v1/tokens", map[string]any{"name": fmt.Sprint("screens ", n), "scopes": []string{"kitchen"},
			"site": strings.TrimPrefix(x.site(n), "/v1/sites/")})
		if err != nil {
			return err
		}
		var token struct{ Secret string }
		if err := json.Unmarshal(answer, &token); err != nil {
			return err
		}
		keys[n] = token.Secret
	}
	for n := range x.screens {
		c, err := (&net.Dialer{}).DialContext(ctx, "tcp", address)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(c, "GET %s/live HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\n\r\n", x.site(n), address, keys[n%x.shops]); err != nil {
			return errors.Join(err, c.Close())
		}
		in := bufio.NewReaderSize(c, 4096)
		status, err := in.ReadString('\n')
		if err != nil || !strings.Contains(status, " 200 ") {
			return fmt.Errorf("screen %d: %s %w", n, status, errors.Join(err, c.Close()))
		}
		x.open.Add(1)
		go func() {
			<-ctx.Done()
			_ = c.Close()
		}()
		go func() {
			for {
				line, err := in.ReadString('\n')
				if err != nil {
					x.open.Add(-1)
					return
				}
				if strings.HasPrefix(line, "event:") {
					x.events.Add(1)
				}
			}
		}()
	}
	return nil
}

// under has tills, kitchens and people work for the length of the load. Requests are due at fixed times, whether the one before was
// answered or not.
func (x *load) under(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, x.length)
	defer cancel()
	var users sync.WaitGroup
	start := time.Now().UTC().AddDate(0, 0, -2).Truncate(time.Hour)
	x.each(ctx, &users, time.Second*time.Duration(x.a)/time.Duration(x.counts), func(n int) {
		from := start.Add(time.Duration(n/x.shops) * 15 * time.Second)
		var counts []any
		for item := range x.a {
			counts = append(counts, map[string]any{"item": fmt.Sprint("ITEM-", item), "window_start": from, "window_end": from.Add(15 * time.Second), "count": n%7 + 1})
		}
		_, _ = x.send(context.WithoutCancel(ctx), "post counts", http.MethodPost, x.site(n)+"/sales-counts", map[string]any{"source": "till", "counts": counts})
	})
	at := time.Now().UTC().Truncate(time.Second)
	x.each(ctx, &users, time.Second, func(n int) {
		_, _ = x.send(context.WithoutCancel(ctx), "post a stock count", http.MethodPost, x.site(n)+"/stock-counts", map[string]any{"counted_at": at.Add(time.Duration(n) * time.Millisecond), "ice_g": 5000 + n})
	})
	reads := []struct{ what, path string }{
		{"read a prep sheet", "/prep-sheets/2026-07-11"}, {"read the latest plan", "/plans/latest"}, {"read warnings", "/warnings"},
		{"read counts", "/sales-counts?limit=100"}, {"read the set-up", "/setup"}, {"read the stock", "/stock-counts"},
	}
	x.each(ctx, &users, time.Second/time.Duration(max(1, x.reads)), func(n int) {
		r := reads[n%len(reads)]
		_, _ = x.send(context.WithoutCancel(ctx), r.what, http.MethodGet, x.site(n/len(reads))+r.path, nil)
	})
	users.Wait()
}

// each does something at fixed times, in up to 200 requests at once.
func (x *load) each(ctx context.Context, users *sync.WaitGroup, every time.Duration, do func(n int)) {
	users.Go(func() {
		var sent sync.WaitGroup
		defer sent.Wait()
		places := make(chan struct{}, 200)
		began := time.Now()
		for n := 0; ; n++ {
			select {
			case <-ctx.Done():
				return
			case <-time.After(time.Until(began.Add(time.Duration(n) * every))):
			}
			select {
			case places <- struct{}{}:
			default:
				x.late.Add(1)
				continue
			}
			sent.Go(func() {
				defer func() { <-places }()
				do(n)
			})
		}
	})
}

func (x *load) print() {
	x.mu.Lock()
	defer x.mu.Unlock()
	fmt.Printf("%-22s %8s %8s %9s %9s %9s\n", "", "answers", "refused", "p50 ms", "p99 ms", "max ms")
	names := slices.Sorted(maps.Keys(x.took))
	for what := range x.wrong {
		if !slices.Contains(names, what) {
			names = append(names, what)
		}
	}
	var reads []time.Duration
	for _, what := range names {
		if strings.HasPrefix(what, "read") {
			reads = append(reads, x.took[what]...)
		}
		x.row(what, x.took[what], x.wrong[what])
	}
	x.row("all reads", reads, 0)
}

func (x *load) row(what string, took []time.Duration, wrong int) {
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	half, most, all := loopback.Spread(took)
	fmt.Printf("%-22s %8d %8d %9.1f %9.1f %9.1f\n", what, len(took), wrong, ms(half), ms(most), ms(all))
}
