package facts_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/facts"
)

// silentShop lives days of a shop that brews in the morning what is forecast for the day and a cushion, sells out and says nothing. demand
// is 10 an hour. said stores what was brewed, so that the sell-out shows in the book; learn is how many days pass between refits. It returns
// the mean of the last day part's forecast for the next day.
func silentShop(t *testing.T, days, learn int, said bool) float64 {
	t.Helper()
	s, setup := shopOf(t, func(s *models.Setup) { s.Drinks = s.Drinks[:1]; s.Drinks[0].Doses = nil })
	drink := setup.Drinks[0]
	require.NotEmpty(t, drink.Uses)
	mapped(t, s, "GLASS", drink.Code, 1)
	beverage, grams := drink.Uses[0].Beverage, setup.Site.UsedG(drink.Uses[0].G)
	rng := rand.New(rand.NewPCG(4, 4))
	first := saturday.AddDays(-days - 56)
	expected := 110.0
	late := 0.0
	for k := range days + 56 {
		d := first.AddDays(k)
		free := k < 56 // the first weeks have plenty
		made := math.Round(expected * 1.02)
		left := made
		level := math.Exp(.15*rng.NormFloat64() - .011)
		var post models.SalesPost
		post.Source = "till"
		for h := 8; h < 19; h++ {
			n := math.Max(0, math.Round(10*level+math.Sqrt(10)*rng.NormFloat64()))
			if !free {
				n = math.Min(n, left)
				left -= n
			}
			post.Counts = append(post.Counts, models.SalesCount{Item: "GLASS", WindowStart: clock(d, h, 0), WindowEnd: clock(d, h+1, 0), Count: n})
		}
		_, err := s.PutCounts(ctx, kiosk, post, clock(d, 19, 30), "", "")
		require.NoError(t, err)
		if said && !free {
			require.NoError(t, s.AddStockChanges(ctx, kiosk, []models.StockChange{{Kind: "made", Beverage: &beverage, G: new(made * grams), At: clock(d, 7, 30)}}, clock(d, 7, 30)))
		}
		if k < 55 || (k-55)%learn != 0 && k < days+55 {
			continue
		}
		next := d.AddDays(1)
		now := clock(next, 6, 0)
		refit(t, s, kiosk, now)
		r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: next, Days: 1, Now: now})
		require.NoError(t, err)
		expected, late = 0, 0
		for _, f := range r.Forecast {
			expected += f.Mean
			if p := setup.Site.DayParts[len(setup.Site.DayParts)-1]; f.DayPart == p.Code {
				late = f.Mean
			}
		}
	}
	return late
}

func TestAShopThatSellsOutInSilenceDoesNotForecastLessAndLess(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("lives months of a shop")
	}
	const truth = 40 // four hours
	blind, seen := silentShop(t, 70, 5, false), silentShop(t, 70, 5, true)
	t.Logf("last day part after 70 days, of %d: unseen %.1f (%+.0f %%), seen in the book %.1f (%+.0f %%)", truth, blind, 100*(blind/truth-1), seen, 100*(seen/truth-1))
	require.InDelta(t, truth, seen, .1*truth)
	require.Less(t, blind, .8*truth, "without the book")
}
