package jobs

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
)

// busyShop is a shop with the demo's history and real facts, planned and published on Friday evening.
func busyShop(t *testing.T) *shop {
	t.Helper()
	s := newShop(t, "2026-07-10T18:00:00+02:00")
	story, err := demo.At(s.now)
	require.NoError(t, err)
	_, etag, err := s.Store.Setup(t.Context(), s.site)
	require.NoError(t, err)
	_, _, err = s.Store.PutSetup(t.Context(), story.Setup, etag, s.now)
	require.NoError(t, err)
	require.NoError(t, s.Store.PutMappings(t.Context(), s.site, demo.Mappings()))
	for _, w := range []models.WeatherPost{story.Observed(), story.Forecast()} {
		require.NoError(t, s.Store.PutWeather(t.Context(), s.site, w))
	}
	require.NoError(t, s.Store.PutExpectedDemand(t.Context(), s.site, story.ExpectedDemand(), s.now))
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, story.StockCount(), s.now))
	s.Gather = facts.Gather
	return s
}

// happenings are what may happen in a shop, with a till or without, between two checks: mostly nothing.
func happenings(t *testing.T, r *rand.Rand, st models.Store, site string, till bool, now time.Time) {
	t.Helper()
	ctx := t.Context()
	ahead := func(most time.Duration) time.Time {
		return now.Add(time.Duration(r.Int64N(int64(most)))).Truncate(time.Minute)
	}
	var err error
	switch r.IntN(32) {
	case 0:
		if !till {
			return
		}
		start := now.Add(-15 * time.Minute).Truncate(15 * time.Minute)
		if r.IntN(2) == 0 {
			start = start.Add(15 * time.Minute) // a till whose clock is fast
		}
		_, err = st.PutCounts(ctx, site, models.SalesPost{Source: demo.Source, Counts: []models.SalesCount{
			{Item: demo.Mappings()[0].Item, WindowStart: start, WindowEnd: start.Add(15 * time.Minute), Count: float64(r.IntN(9))}}}, now, "", "")
	case 1:
		g := float64(1000 * r.IntN(30))
		err = st.AddStockCount(ctx, site, models.StockCount{CountedAt: now.Add(time.Duration(r.IntN(25)-10) * time.Minute), IceG: &g}, now)
	case 2:
		from := ahead(6 * time.Hour)
		err = st.PutOutages(ctx, site, []models.Outage{{Kind: "brewer", Code: "Left", From: from, To: from.Add(time.Duration(10+r.IntN(90)) * time.Minute)}})
	case 3:
		from := ahead(6 * time.Hour)
		err = st.PutEvents(ctx, site, []models.Event{{Name: "Street party", From: from, To: from.Add(time.Hour), Factor: 1.3, Kind: "event"}})
	case 4:
		from := ahead(3 * time.Hour)
		to := from.Add(time.Duration(10+r.IntN(60)) * time.Minute)
		err = st.PutOffSale(ctx, site, []models.OffSale{{Drink: *demo.Mappings()[0].Drink, From: from, To: &to}})
	case 5:
		from := ahead(4 * time.Hour)
		err = st.PutAttention(ctx, site, []models.Attention{{From: from, To: from.Add(time.Hour), Starts: 1}})
	case 6:
		err = st.PutWeatherHigh(ctx, site, site2day(now), new(float64(25+r.IntN(15))), now)
	case 7:
		var sheet models.PrepSheet
		if sheet, err = st.Sheet(ctx, site, site2day(now)); err == nil && len(sheet.Tasks) > 0 {
			task := sheet.Tasks[r.IntN(len(sheet.Tasks))]
			state := []string{models.Started, models.Made, models.Skipped}[r.IntN(3)]
			_, err = st.AddMark(ctx, site, models.TaskMark{Task: task.ID, State: state, At: now.Add(time.Duration(r.IntN(14)-5) * time.Minute), Key: fmt.Sprint(r.Uint64())}, now)
		}
		if models.CodeOf(err) == models.CodeNotFound {
			err = nil
		}
	default: // nothing
	}
	require.NoError(t, err)
}

func site2day(now time.Time) models.Date { return models.DateOf(now, time.FixedZone("", 7200)) }

// aside is a site's own moment within a schedule's window.
const aside = 2*time.Minute + 7*time.Second

// watchDays is how many random days to check, where somebody asks for many.
func watchDays() int {
	n, _ := strconv.Atoi(os.Getenv("HOTDAY_WATCH_DAYS"))
	return n
}

// known is what a plan follows from, without what only the clock moves on: the ice, which melts and is made, and until when sales are known.
func known(t *testing.T, r models.PlanRequest) string {
	t.Helper()
	r.Now, r.Ice.OpeningG, r.Ice.Plain.OpeningG = time.Time{}, 0, 0
	r.Sold = append([]models.Sold(nil), r.Sold...)
	for i := range r.Sold {
		r.Sold[i].Until = time.Time{}
	}
	doc, err := json.MarshalIndent(r, "", " ")
	require.NoError(t, err)
	return string(doc)
}

// A check that plans nothing would have planned from the very same facts as the last one that did, on days on which anything may happen.
func TestACheckPlansAgainWheneverTheFactsHaveChanged(t *testing.T) {
	t.Parallel()
	days := max(2, watchDays())
	var whole, quiet int
	for seed := range days {
		s := busyShop(t)
		var last models.PlanRequest
		s.Compute = func(_ context.Context, r models.PlanRequest, _ planner.Options) (models.Plan, error) {
			last = r
			s.computed++
			return models.Plan{ComputedAt: r.Now, From: r.From, Days: r.Days, Batches: s.batches, Digest: fmt.Sprint(r.Now)}, nil
		}
		for _, h := range []int{7, 10, 14} {
			b := batch(time.Date(2026, 7, 11, h, 20, 0, 0, time.FixedZone("", 7200)), 5200)
			b.Date = "2026-07-11"
			s.batches = append(s.batches, b)
		}
		s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-11"})
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		for s.now = s.now.Add(12*time.Hour + aside); site2day(s.now) == "2026-07-11" && s.now.In(time.FixedZone("", 7200)).Hour() < 20; s.now = s.now.Add(10 * time.Minute) {
			happenings(t, r, s.Store, s.site, seed%2 == 1, s.now.Add(-time.Duration(r.IntN(10))*time.Minute))
			before := s.computed
			s.do(models.Job{Kind: models.JobWatch, Site: s.site, Key: s.now.String()})
			if s.computed > before {
				whole++
				require.True(t, s.now.Equal(last.Now))
				continue
			}
			quiet++
			now, err := facts.Gather(t.Context(), s.Store, facts.GatherQuery{Site: s.site, From: last.From, Days: last.Days, Now: s.now})
			require.NoError(t, err)
			require.Equal(t, known(t, last), known(t, now), "seed %d: at %s nothing was planned, but the facts have changed since %s", seed, s.now, last.Now)
			require.Less(t, s.now.Sub(last.Now), wholeCheckEvery+10*time.Minute)
		}
	}
	require.Positive(t, quiet)
	t.Logf("%d checks planned, %d did not", whole, quiet)
}

// With the real planner, a warning that whole checks have had open, or have had closed, for longer than the time between two of them is so
// with the others too.
func TestRandomDaysHaveTheWarningsOfWholeChecks(t *testing.T) {
	days := watchDays()
	if days == 0 {
		t.Skip("plans every ten minutes of random days: set HOTDAY_WATCH_DAYS to their number")
	}
	zone := time.FixedZone("", 7200)
	var checks, planned, differ int
	for seed := range days {
		always, usual := busyShop(t), busyShop(t)
		since := map[string]time.Time{} // when whole checks have opened or closed a warning
		wasOpen := map[string]bool{}
		rs := map[*shop]*rand.Rand{}
		for _, s := range []*shop{always, usual} {
			s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
				s.computed++
				return planner.ComputeWith(ctx, r, o.Brief())
			}
			s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-11"})
			rs[s] = rand.New(rand.NewPCG(uint64(seed), 11))
		}
		before := usual.computed
		for now := usual.now.Add(12*time.Hour + aside); now.In(zone).Hour() < 20; now = now.Add(10 * time.Minute) {
			open := map[*shop]map[string]bool{}
			for _, s := range []*shop{always, usual} {
				s.now = now
				happenings(t, rs[s], s.Store, s.site, seed%2 == 1, now.Add(-time.Duration(rs[s].IntN(10))*time.Minute))
				if s == always {
					require.NoError(t, s.Store.PutWatched(t.Context(), s.site, models.Watched{Changes: -1}))
				}
				s.do(models.Job{Kind: models.JobWatch, Site: s.site, Key: now.String()})
				list, err := openByKey(t.Context(), s.Store, s.site)
				require.NoError(t, err)
				open[s] = map[string]bool{}
				for key := range list {
					open[s][key] = true
					since[key] = since[key] // the zero time: not yet seen
				}
			}
			checks++
			same := true
			for key := range since {
				if open[always][key] != wasOpen[key] {
					wasOpen[key], since[key] = open[always][key], now
				}
				if open[usual][key] != open[always][key] {
					same = false
					require.LessOrEqual(t, now.Sub(since[key]), wholeCheckEvery+10*time.Minute, "seed %d: at %s %s is open %v, and %v by whole checks", seed, now, key,
						open[usual][key], open[always][key])
				}
			}
			if !same {
				differ++
			}
		}
		planned += usual.computed - before
	}
	t.Logf("%d checks, of which %d planned; %d had other warnings than whole checks", checks, planned, differ)
}
