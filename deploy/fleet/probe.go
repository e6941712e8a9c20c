package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/api"
	"hotday/deploy/demo"
	"hotday/deploy/loopback"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// askEvery is the time between two requests of the probe.
const askEvery = 50 * time.Millisecond

// probe is how long requests took.
type probe struct {
	took   []time.Duration
	failed int
}

func (p *probe) String() string {
	if p == nil {
		return "no requests"
	}
	half, most, all := loopback.Spread(p.took)
	return fmt.Sprintf("%d requests, half of them within %.1f ms, 99%% within %.1f ms, all within %.1f ms; %d failed", len(p.took), half.Seconds()*1e3, most.Seconds()*1e3, all.Seconds()*1e3, p.failed)
}

// ask serves on loopback and asks for lists, set-ups and sheets, and posts counts, until ctx ends.
func ask(ctx context.Context, st *store.Store, clock *clock, shared *cores.Cores, shops []shop) (*probe, error) {
	_, key, err := st.AddToken(ctx, models.Token{Name: "fleet", Scopes: []string{models.ScopeManage}}, clock.Now())
	if err != nil {
		return nil, err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	server := api.New(api.Config{Store: st, Sessions: st, Now: clock.Now, Cores: shared, Log: slog.New(slog.DiscardHandler), RatePerSecond: 1e6})
	p, base := &probe{}, "http://"+l.Addr().String()
	g, asking := errgroup.WithContext(ctx)
	g.Go(func() error { return server.Serve(asking, l, time.Second) })
	g.Go(func() error {
		r := rand.New(rand.NewPCG(1, 2))
		tick := time.NewTicker(askEvery)
		defer tick.Stop()
		for {
			select {
			case <-asking.Done():
				return nil
			case <-tick.C:
				p.request(asking, base, key, shops[r.IntN(len(shops))].code, clock.Now(), r)
			}
		}
	})
	return p, g.Wait()
}

// request sends one request and notes how long its answer took.
func (p *probe) request(ctx context.Context, base, key, site string, now time.Time, r *rand.Rand) {
	method, path, body := http.MethodGet, "", []byte(nil)
	switch r.IntN(4) {
	case 0:
		path = "/v1/sites?limit=50"
	case 1:
		path = "/v1/sites/" + site + "/setup"
	case 2:
		path = "/v1/sites/" + site + "/plans?limit=5"
	case 3:
		start := now.Truncate(15 * time.Minute).Add(-15 * time.Minute)
		method, path = http.MethodPost, "/v1/sites/"+site+"/sales-counts"
		body, _ = json.Marshal(models.SalesPost{Source: demo.Source, Counts: []models.SalesCount{{Item: demo.Mappings()[0].Item, WindowStart: start, WindowEnd: start.Add(15 * time.Minute), Count: float64(r.IntN(9))}}})
	}
	began := time.Now()
	good, err := send(ctx, method, base+path, key, body)
	switch {
	case ctx.Err() != nil:
	case !good || err != nil:
		p.failed++
	default:
		p.took = append(p.took, time.Since(began))
	}
}

func send(ctx context.Context, method, address, key string, body []byte) (good bool, err error) {
	req, err := http.NewRequestWithContext(ctx, method, address, bytes.NewReader(body))
	if err != nil {
		return false, err
	}
	req.Header.Set("Authorization", "Bearer "+key)
	if body != nil {
		req.Header.Set("Content-Type", "application/json")
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return false, err
	}
	_, err = io.Copy(io.Discard, res.Body)
	return res.StatusCode < 300, errors.Join(err, res.Body.Close())
}

// sitesList measures the first page of the list of shops.
func sitesList(ctx context.Context, st *store.Store, w io.Writer) error {
	const times = 50
	used := processTime()
	for range times {
		if _, err := st.SiteList(ctx, models.SiteFilter{}, models.Page{Limit: 50}); err != nil {
			return err
		}
	}
	page := processTime() - used
	used = processTime()
	for range times {
		if _, err := st.SiteList(ctx, models.SiteFilter{Search: "quay 4", ByName: true}, models.Page{Limit: 50}); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "a page of the list of shops takes %.2f ms of processor time, a search %.2f ms\n", page.Seconds()*1e3/times, (processTime()-used).Seconds()*1e3/times)
	return err
}
