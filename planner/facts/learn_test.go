package facts_test

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/facts"
)

// twoDrinks is the demo shop with its season, selling two drinks: enough to fit to, and fast.
func twoDrinks(t testing.TB, counts func(c *models.SalesCount)) (*store.Store, demo.Story) {
	t.Helper()
	story, err := demo.At(time.Date(2026, 7, 9, 15, 0, 0, 0, berlin))
	require.NoError(t, err)
	story.Setup.Drinks = story.Setup.Drinks[:2]
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	require.NoError(t, story.Keep(ctx, s, func(string, ...any) {}))
	if counts != nil {
		post := models.SalesPost{Source: demo.Source}
		for c := range story.Counts() {
			counts(&c)
			post.Counts = append(post.Counts, c)
		}
		for len(post.Counts) > 0 {
			n := min(len(post.Counts), models.MaxSalesRows)
			_, err := s.PutCounts(ctx, story.Setup.Site.Code, models.SalesPost{Source: demo.Source, Counts: post.Counts[:n]}, story.Now, "", "")
			require.NoError(t, err)
			post.Counts = post.Counts[n:]
		}
	}
	return s, story
}

func night(t testing.TB, s *store.Store, site string, now time.Time) facts.Learnt {
	t.Helper()
	l, err := facts.Learn(ctx, s, site, now, nil)
	require.NoError(t, err)
	require.NoError(t, s.PutForecastState(ctx, site, l.State))
	require.NoError(t, s.PutDayForecasts(ctx, site, l.Forecasts))
	return l
}

func TestTheFirstNightBackfillsForecastsAndTheNextContinues(t *testing.T) {
	t.Parallel()
	s, story := twoDrinks(t, nil)
	site := story.Setup.Site.Code
	today := story.Setup.Site.ServiceDayOf(story.Now)
	var shares []float64
	_, err := facts.Learn(ctx, s, site, story.Now, func(x float64) { shares = append(shares, x) })
	require.NoError(t, err)
	require.Greater(t, len(shares), 100)
	require.IsNonDecreasing(t, shares)
	require.InDelta(t, 1, shares[len(shares)-1], 0.2)

	first := night(t, s, site, story.Now)
	require.Len(t, first.Forecasts, 57, "eight weeks made good, and today")
	require.Equal(t, 56, first.Record.All.Forecast.Days)
	require.Equal(t, 56, first.Record.Observed, "the demo has no weather forecast of the past")
	require.Equal(t, today.AddDays(-1), *first.Record.To)
	require.Len(t, first.Record.Drinks, 2)
	require.Len(t, first.Record.Rows, 2*len(first.Record.Parts))
	state := refit(t, s, site, story.Now)
	require.Equal(t, first.State.Through, state.Through)

	next := night(t, s, site, story.Now.AddDate(0, 0, 1))
	require.Len(t, next.Forecasts, 1, "only the day that begins is new")
	require.Equal(t, today.AddDays(1), next.Forecasts[0].Date)
	require.False(t, next.Forecasts[0].Observed, "its weather was forecast")

	// Days of missed nights are forecast from the last state before them.
	later := night(t, s, site, story.Now.AddDate(0, 0, 4))
	require.Len(t, later.Forecasts, 3)
}

func TestNothingLooksAtADayBeforeItIsForecast(t *testing.T) {
	t.Parallel()
	quiet, story := twoDrinks(t, nil)
	site := story.Setup.Site.Code
	from := story.Setup.Site.ServiceDayOf(story.Now).AddDays(-28)
	chance := rand.New(rand.NewPCG(1, 2))
	loud, _ := twoDrinks(t, func(c *models.SalesCount) {
		if story.Setup.Site.ServiceDayOf(c.WindowStart) >= from {
			c.Count = float64(chance.IntN(40)) // another future
		}
	})
	one, other := night(t, quiet, site, story.Now), night(t, loud, site, story.Now)
	same, differ := 0, 0
	for i := range one.Forecasts {
		require.Equal(t, one.Forecasts[i].Date, other.Forecasts[i].Date)
		if one.Forecasts[i].Date <= from { // the first changed day itself was said before
			require.Equal(t, one.Forecasts[i], other.Forecasts[i])
			same++
		} else if one.Forecasts[i].Date > from.AddDays(7) {
			require.NotEqual(t, one.Forecasts[i].Rows, other.Forecasts[i].Rows, one.Forecasts[i].Date)
			differ++
		}
	}
	require.Equal(t, 29, same)
	require.Positive(t, differ)
	require.NotEqual(t, one.Record.All.Forecast, other.Record.All.Forecast)
}

func TestExpectedDemandIsScoredAsOfOpening(t *testing.T) {
	t.Parallel()
	s, story := twoDrinks(t, nil)
	site := story.Setup.Site.Code
	yesterday := story.Setup.Site.ServiceDayOf(story.Now).AddDays(-1)
	drink := story.Setup.Drinks[0].Code
	open := story.Setup.Site.OpenSpans(yesterday)[0].From
	say := func(at time.Time, expected *float64) {
		require.NoError(t, s.PutExpectedDemand(ctx, site, []models.ExpectedDemand{{Date: yesterday, DayPart: "morning", Drink: drink, Expected: expected}}, at))
	}
	say(open.Add(-48*time.Hour), new(1000.0))
	say(open.Add(-time.Hour), new(3.0))
	say(open.Add(6*time.Hour), new(12.0)) // with hindsight
	before := night(t, s, site, story.Now)
	var judged models.Score
	for _, r := range before.Record.Rows {
		if r.DayPart == "morning" && r.Drink == drink {
			judged = r.Override
		}
	}
	require.Equal(t, 1, judged.Rows)
	days, err := facts.ComparableDays(ctx, s, models.PlanRequest{Setup: story.Setup, From: yesterday.AddDays(7), Days: 1, Now: story.Now}, story.Now)
	require.NoError(t, err)
	count := days[facts.ComparedRow{Weekday: yesterday.Weekday(), DayPart: "morning", Drink: drink}][0].Count
	require.InDelta(t, 100*(3-count)/count, *judged.BiasPct, 0.051)
	l, err := s.ExpectedDemandHistory(ctx, site, yesterday, yesterday.AddDays(1))
	require.NoError(t, err)
	require.Len(t, l, 3)
}

func TestALearningThatIsCancelledLeavesNothing(t *testing.T) {
	t.Parallel()
	s, story := twoDrinks(t, nil)
	for _, at := range []float64{0.1, 0.45, 0.6} {
		ctx, cancel := context.WithCancel(t.Context())
		_, err := facts.Learn(ctx, s, story.Setup.Site.Code, story.Now, func(x float64) {
			if x >= at {
				cancel()
			}
		})
		require.ErrorIs(t, err, context.Canceled, "at %v", at)
		cancel()
	}
}

// holding is a store that knows whether a read transaction is open.
type holding struct {
	models.Store
	open bool
}

func (h *holding) Read(ctx context.Context, fn func(models.Store) error) error {
	h.open = true
	defer func() { h.open = false }()
	return h.Store.Read(ctx, fn)
}

func TestLearningHoldsNoReadTransactionWhileItComputes(t *testing.T) {
	t.Parallel()
	s, story := twoDrinks(t, nil)
	h := &holding{Store: s}
	computing := 0
	_, err := facts.Learn(ctx, h, story.Setup.Site.Code, story.Now, func(share float64) {
		require.Equal(t, share <= 0.4, h.open, "at %v", share)
		if !h.open {
			computing++
		}
	})
	require.NoError(t, err)
	require.Greater(t, computing, 5)
}
