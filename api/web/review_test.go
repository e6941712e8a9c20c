package web_test

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// addPastDays adds the six days before Saturday: sales of the first drink, stock changes on five of them, forecasts, a track record
// and a replay.
func (s *shop) addPastDays(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	setup, etag, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	hours := setup.Site.Opening[0]
	setup.Site.Opening = nil
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		hours.Weekday = day
		setup.Site.Opening = append(setup.Site.Opening, hours)
	}
	_, _, err = s.store.PutSetup(ctx, setup, etag, s.clock())
	require.NoError(t, err)
	drink, bev := setup.Drinks[0], setup.Beverages[0]
	require.NotEmpty(t, drink.Uses)
	bev.Code = drink.Uses[0].Beverage
	part := setup.Site.DayParts[len(setup.Site.DayParts)-1].Code
	require.NoError(t, s.store.PutMappings(ctx, site, []models.ItemMapping{{Source: "till", Item: "one", Drink: new(drink.Code), Factor: 1}}))
	var post models.SalesPost
	post.Source = "till"
	var forecasts []models.DayForecast
	var changes []models.StockChange
	for n := 6; n >= 1; n-- {
		d := saturday.AddDays(-n)
		open := setup.Site.OpenSpans(d)
		if len(open) == 0 {
			continue
		}
		last := open[len(open)-1]
		post.Counts = append(post.Counts, models.SalesCount{Item: "one", WindowStart: last.To.Add(-time.Hour), WindowEnd: last.To, Count: 20})
		forecasts = append(forecasts, models.DayForecast{Date: d, MadeAt: last.From, Rows: []models.RowForecast{{DayPart: part, Drink: drink.Code, P10: 15, P50: 22, P90: 30}}})
		if n > 1 {
			changes = append(changes, models.StockChange{Kind: "made", Beverage: &bev.Code, G: new(20*drink.Uses[0].G + 2000), At: open[0].From},
				models.StockChange{Kind: "discarded", Beverage: &bev.Code, G: new(2000.0), At: last.To})
		}
	}
	_, err = s.store.PutCounts(ctx, site, post, s.clock(), "", "")
	require.NoError(t, err)
	require.NoError(t, s.store.PutDayForecasts(ctx, site, forecasts))
	require.NoError(t, s.store.AddStockChanges(ctx, site, changes, s.clock()))
	require.NoError(t, s.store.PutTrackRecord(ctx, site, models.TrackRecord{MadeAt: s.clock(), From: new(saturday.AddDays(-6)), To: new(saturday.AddDays(-1)),
		All:    models.Record{Forecast: models.Score{Days: 6, Rows: 6, Ranges: 6, OffPct: new(10.0), DayOffPct: new(10.0), BiasPct: new(10.0), InsidePct: new(83.3)}},
		Drinks: []models.DrinkRecord{}, Weeks: []models.PeriodRecord{{From: saturday.AddDays(-5), Record: models.Record{Forecast: models.Score{Days: 5, DayOffPct: new(9.0)}}}}}))
	require.NoError(t, s.store.PutPastReplay(ctx, site, models.Replay{MadeAt: s.clock(), From: saturday.AddDays(-6), To: saturday.AddDays(-1), Currency: setup.Site.Currency, Open: 6, Demand: 120,
		Methods:  []models.ReplayMethod{{Name: "plan", Cost: 12345, PouredKg: 1.5, Missed: 2, InsidePct: new(80.0)}, {Name: "par sheet", Cost: 20000}, {Name: "perfect foresight", Cost: 9000}},
		CurveSVG: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 960 520"><text x="20" y="40">Poured</text></svg>`,
		Savings: []models.ReplaySaving{{Kind: models.AdviceIceBin, Was: setup.Ice.BinG / 1000, Amount: 12, Days: 5, Of: 6, Money: 4100, Low: 1900, High: 6300, Clear: true},
			{Kind: models.AdviceHold, Was: setup.Beverages[0].HoldH, Amount: 2, Days: 3, Of: 6, Money: 300, Low: -200, High: 800}},
		SVG: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 960 520"><style>text{fill:#20272b}</style><text x="20" y="40">Cost</text></svg>`}))
}

func TestReview(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	page := body(t, s.get(t, s.key, "/s/lido/review"))
	assert.Contains(t, page, "No sales counts on these days", "a shop without history")
	assert.Contains(t, page, "No changes suggested.")

	s.addPastDays(t)
	page = body(t, s.get(t, s.key, "/s/lido/review?day=2026-07-09&span=7"))
	assert.Contains(t, page, "20 drinks sold.")
	assert.Contains(t, page, "Forecast: 22.")
	assert.Contains(t, page, "2.0\u202fkg", "poured away")
	assert.Contains(t, page, "10% of a day", "forecast accuracy")
	assert.Contains(t, page, "wasted on 5 days of 5")
	assert.Contains(t, page, "123.45")
	assert.Regexp(t, `An ice bin holding 12\.0.kg more would have saved about .{0,8}41.{0,8} .{0,8}19.{0,8} to .{0,8}63.{0,8} in 6 days`, page)
	assert.NotContains(t, page, "Holding hot-brewed coffee", "too uncertain to say")
	page = body(t, s.get(t, s.key, "/s/lido/review?day=2026-07-10&span=7"))
	assert.Contains(t, page, "The kitchen reported 5 of 6 open days")
	for _, odd := range []string{"day=never", "day=2099-01-01", "span=0", "span=9999", "day=0001-01-01"} {
		assert.Equal(t, http.StatusOK, s.get(t, s.key, "/s/lido/review?"+odd).StatusCode, odd)
	}
	chart := s.get(t, s.key, "/s/lido/review/replay.svg")
	assert.Equal(t, "image/svg+xml", chart.Header.Get("Content-Type"))
	assert.Contains(t, chart.Header.Get("Content-Security-Policy"), "default-src 'none'")
	assert.Contains(t, body(t, s.get(t, s.key, "/s/lido/review/curve.svg")), "Poured")
}

func TestReviewInTheBrowser(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	s.addPastDays(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	for _, width := range []int64{320, 390, 1920, 3840} {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, 800)))
		b.goTo(s.base + "/s/lido/review?day=2026-07-10&span=7")
		b.eval(`(() => { for (const d of document.querySelectorAll("details")) d.open = true; return ""; })()`)
		assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%d px scrolls sideways", width)
	}
	b.until(`document.querySelector(".relived").naturalWidth > 0`)
	b.click("#relive")
	b.until(`document.getElementById("work").textContent.includes("Starting soon.")`)
	// The job's progress is shown, and the job can be stopped.
	emit := func(data string) {
		_, err := s.store.AddEvent(ctx, models.LiveEvent{Site: site, Kind: "work", At: s.clock(), Data: []byte(data)})
		require.NoError(t, err)
	}
	_, err := s.store.PutProgress(ctx, site, models.Progress{Kind: "replay", StartedAt: s.clock(), At: s.clock(), Share: 0.4})
	require.NoError(t, err)
	emit(`{"kind":"replay","share":0.4,"over":false}`)
	b.until(`document.getElementById("work").textContent.includes("40")`)
	b.click("#work button")
	b.until(`document.querySelector("#work button").disabled`)
	emit(`{"kind":"replay","share":0.4,"over":true}`)
	b.until(`document.querySelector("#work a") !== null`)
	b.quiet()
}
