package facts_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/facts"
)

// demoShop is the demo's shop with its season of counts and weather.
func demoShop(t testing.TB) (*store.Store, demo.Story) {
	t.Helper()
	story, err := demo.At(time.Date(2026, 7, 9, 15, 0, 0, 0, berlin))
	require.NoError(t, err)
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	require.NoError(t, story.Keep(ctx, s, func(string, ...any) {}))
	return s, story
}

func refit(t testing.TB, s *store.Store, site string, now time.Time) models.ForecastState {
	t.Helper()
	state, err := facts.Refit(ctx, s, site, now)
	require.NoError(t, err)
	require.NoError(t, s.PutForecastState(ctx, site, state))
	return state
}

func TestPlansUseTheStateOfTheNightlyRefit(t *testing.T) {
	t.Parallel()
	s, story := demoShop(t)
	site := story.Setup.Site.Code
	q := facts.GatherQuery{Site: site, From: story.Saturday, Days: 2, Now: story.Now}
	before, err := facts.Gather(ctx, s, q)
	require.NoError(t, err)
	state := refit(t, s, site, story.Now)
	require.Equal(t, story.Setup.Site.ServiceDayOf(story.Now).AddDays(-1), state.Through)
	after, err := facts.Gather(ctx, s, q)
	require.NoError(t, err)
	require.NoError(t, after.Validate())
	require.Len(t, after.Forecast, len(before.Forecast))
	warm := 0
	for i, f := range after.Forecast {
		require.Equal(t, before.Forecast[i].Drink, f.Drink)
		require.Contains(t, f.Basis, f.Date.Weekday().String())
		require.NotContains(t, f.Basis, "no forecast yet")
		require.False(t, math.IsNaN(f.Mean))
		if strings.Contains(f.Basis, "°C") {
			warm++
		}
		t.Logf("%s %s %s: %.1f %v: %s (by weekday %.1f)", f.Date, f.DayPart, f.Drink, f.Mean, f.Quantiles, f.Basis, before.Forecast[i].Mean)
	}
	require.Positive(t, warm, "a hot weekend is told by its warmth")

	// The next night continues from that state.
	next := refit(t, s, site, story.Now.AddDate(0, 0, 1))
	require.Equal(t, state.Through.AddDays(1), next.Through)
}

func TestAStateThatCannotBeReadIsAsIfThereWereNone(t *testing.T) {
	t.Parallel()
	s, story := demoShop(t)
	site := story.Setup.Site.Code
	q := facts.GatherQuery{Site: site, From: story.Saturday, Days: 1, Now: story.Now}
	want, err := facts.Gather(ctx, s, q)
	require.NoError(t, err)
	good := refit(t, s, site, story.Now)
	broken, old := good, good
	broken.Learnt, broken.Past = []byte("of another version"), []byte("?")
	old.Through = old.Through.AddDays(-60)
	for name, f := range map[string]models.ForecastState{"broken": broken, "old": old} {
		require.NoError(t, s.PutForecastState(ctx, site, f))
		got, err := facts.Gather(ctx, s, q)
		require.NoError(t, err, name)
		require.Equal(t, want.Forecast, got.Forecast, name)
	}
	require.NoError(t, s.PutForecastState(ctx, site, broken))
	require.Equal(t, good.Through, refit(t, s, site, story.Now).Through, "the next night learns from nothing")
}

func TestASiteWithoutCountsLearnsNothing(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	state := refit(t, s, kiosk, clock(saturday, 9, 0))
	require.NotNil(t, state.Learnt)
	require.Empty(t, gather(t, s, clock(saturday, 9, 0)).Forecast)
	_, err := facts.Refit(ctx, s, "nowhere", clock(saturday, 9, 0))
	require.Error(t, err)
}

func BenchmarkRefit(b *testing.B) {
	s, story := demoShop(b)
	site := story.Setup.Site.Code
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			_, err := facts.Refit(ctx, s, site, story.Now)
			require.NoError(b, err)
		}
	})
	refit(b, s, site, story.Now)
	b.Run("nightly", func(b *testing.B) {
		for b.Loop() {
			_, err := facts.Refit(ctx, s, site, story.Now.AddDate(0, 0, 1))
			require.NoError(b, err)
		}
	})
	b.Run("gather", func(b *testing.B) {
		for b.Loop() {
			_, err := facts.Gather(ctx, s, facts.GatherQuery{Site: site, From: story.Saturday, Days: 2, Now: story.Now})
			require.NoError(b, err)
		}
	})
}
