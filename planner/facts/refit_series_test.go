package facts_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/facts"
)

// "all" + "day iced" and "all day" + "iced" read the same when joined with a space.
func TestDrinksWhoseJoinedCodesAreEqualAreForecastApart(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, func(u *models.Setup) {
		u.Site.DayParts = []models.DayPart{{Code: "all", From: "08:00", To: "13:00"}, {Code: "all day", From: "13:00", To: "19:00"}}
		u.Drinks[0].Code, u.Drinks[1].Code = "day iced", "iced"
	})
	mapped(t, s, "A", "day iced", 1)
	mapped(t, s, "B", "iced", 1)
	post := models.SalesPost{Source: "till"}
	for k := 60; k >= 1; k-- {
		for h := 8; h < 19; h++ {
			from, to := clock(saturday.AddDays(-k), h, 0), clock(saturday.AddDays(-k), h+1, 0)
			post.Counts = append(post.Counts, models.SalesCount{Item: "A", WindowStart: from, WindowEnd: to, Count: 2}, models.SalesCount{Item: "B", WindowStart: from, WindowEnd: to, Count: 20})
		}
	}
	now := clock(saturday, 6, 0)
	_, err := s.PutCounts(ctx, kiosk, post, now, "", "")
	require.NoError(t, err)
	refit(t, s, kiosk, now)
	r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: saturday, Days: 1, Now: now})
	require.NoError(t, err)
	mean := map[[2]string]float64{}
	for _, f := range r.Forecast {
		mean[[2]string{f.DayPart, f.Drink}] = f.Mean
	}
	require.Len(t, mean, 4)
	assert.InEpsilon(t, 5*2, mean[[2]string{"all", "day iced"}], .1)
	assert.InEpsilon(t, 6*20, mean[[2]string{"all day", "iced"}], .1)
}
