package jobs

import (
	"context"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/facts"
)

// shop is a site in its own database, with a fake clock, queue and planner.
type shop struct {
	t testing.TB
	Config
	site string
	now  time.Time

	mu    sync.Mutex
	taken map[string]bool // by kind, site and key
	queue []models.Job
	begun map[string]time.Time // when a job of a kind and site was last queued

	batches   []models.BatchTask // of the next plan
	warnings  []models.Warning   // of the next plan
	demand    float64            // of each request; 0: it has none
	computed  int                // plans
	withFixes int                // plans computed with fixes
}

// recorder is a store with a fake queue.
type recorder struct {
	models.Store
	shop *shop
}

func (r recorder) Enqueue(_ context.Context, j models.Job) (bool, error) {
	r.shop.mu.Lock()
	defer r.shop.mu.Unlock()
	id := j.Kind + " " + j.Site + " " + j.Key
	if j.Key != "" && r.shop.taken[id] {
		return false, nil
	}
	r.shop.taken[id] = true
	r.shop.queue = append(r.shop.queue, j)
	r.shop.begun[j.Kind+" "+j.Site] = r.shop.now
	return true, nil
}

func newShop(t testing.TB, now string) *shop {
	t.Helper()
	at, err := time.Parse(time.RFC3339, now)
	require.NoError(t, err)
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	story, err := demo.At(at)
	require.NoError(t, err)
	story.Setup.Site.SetupMin = 60
	_, _, err = st.PutSetup(t.Context(), story.Setup, "", at)
	require.NoError(t, err)
	s := &shop{t: t, site: story.Setup.Site.Code, now: at, taken: map[string]bool{}, begun: map[string]time.Time{}, demand: 1}
	s.Config = Config{
		Store: recorder{st, s}, Log: slog.New(slog.DiscardHandler),
		Now: func() time.Time { return s.now },
		Gather: func(_ context.Context, _ models.Store, q facts.GatherQuery) (models.PlanRequest, error) {
			return models.PlanRequest{Setup: story.Setup, From: q.From, Days: q.Days, Now: q.Now, Demand: []models.Demand{{Date: q.From, Expected: s.demand}}[:min(1, int(s.demand))]}, nil
		},
		Compute: func(_ context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
			s.computed++
			p := models.Plan{ComputedAt: r.Now, From: r.From, Days: r.Days, Batches: s.batches, Warnings: s.warnings}
			p.Digest = r.Now.Format(time.RFC3339)
			if !o.WithoutFixes && (o.FixesIf == nil || o.FixesIf(p)) {
				s.withFixes++
			}
			return p, nil
		},
	}.withDefaults()
	return s
}

// at sets the clock to a local date and time.
func (s *shop) at(clock string) {
	s.t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(s.t, err)
	s.now, err = time.ParseInLocation("2006-01-02 15:04", clock, zone)
	require.NoError(s.t, err)
}

// do runs a job and its effect as the worker does.
func (s *shop) do(j models.Job) {
	s.t.Helper()
	effect, err := s.work()[j.Kind](s.t.Context(), j)
	require.NoError(s.t, err)
	if effect != nil {
		require.NoError(s.t, s.Store.Within(s.t.Context(), effect))
	}
}

// take empties the queue and returns the jobs of a kind.
func (s *shop) take(kind string) []models.Job {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []models.Job
	for _, j := range s.queue {
		if j.Kind == kind {
			out = append(out, j)
		}
	}
	s.queue = nil
	return out
}

func (s *shop) events(kind string) []models.LiveEvent {
	s.t.Helper()
	all, err := s.Store.EventsAfter(s.t.Context(), s.site, 0, 1000)
	require.NoError(s.t, err)
	var out []models.LiveEvent
	for _, e := range all {
		if e.Kind == kind {
			out = append(out, e)
		}
	}
	return out
}

func (s *shop) revision() int {
	s.t.Helper()
	p, _, err := s.Store.LatestPlan(s.t.Context(), s.site)
	if models.CodeOf(err) == models.CodeNotFound {
		return 0
	}
	require.NoError(s.t, err)
	return p.Revision
}

// batch is a batch of house-flash on the brewer Left, on Thursday.
func batch(start time.Time, g float64) models.BatchTask {
	return models.BatchTask{ID: "b-" + start.UTC().Format("02-1504"), Date: "2026-07-09", Brewer: "Left", Beverage: "house-flash", Start: start,
		IceAt: start.Add(25 * time.Minute), Ready: start.Add(40 * time.Minute), UseBy: start.Add(8 * time.Hour), DoseG: g / 13.118, BrewWaterG: g * 0.8576,
		IceG: g * 0.2859, BeverageG: g, BrewerOutTempC: 82, FinalTempC: 5, ExpectedTDSPct: 1.36, State: models.Due}
}
