package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func sitesListed(t *testing.T, open opener) {
	s := open(t)
	put := func(code, name, match string) {
		setup := setupOf(code)
		setup.Site.Name = name
		_, _, err := s.PutSetup(ctx, setup, match, t0)
		require.NoError(t, err)
	}
	put("s-3", "Zum Löwen", "")
	put("s-1", "Żółw 100%", "")
	put("s-2", "Água e Gelo", "")
	put("pier_4", "", "")
	list := func(f models.SiteFilter, p models.Page) (codes []string, next *string) {
		got, err := s.SiteList(ctx, f, p)
		require.NoError(t, err)
		for _, r := range got.Rows {
			codes = append(codes, r.Code)
		}
		return codes, got.Next
	}
	all := func(f models.SiteFilter, limit int) (codes []string) {
		for p := (models.Page{Limit: limit}); ; {
			page, next := list(f, p)
			require.LessOrEqual(t, len(page), limit)
			codes = append(codes, page...)
			if next == nil {
				return codes
			}
			p.Cursor = *next
		}
	}
	for limit := 1; limit <= 5; limit++ {
		require.Equal(t, []string{"pier_4", "s-1", "s-2", "s-3"}, all(models.SiteFilter{}, limit))
		require.Equal(t, []string{"s-2", "pier_4", "s-1", "s-3"}, all(models.SiteFilter{ByName: true}, limit))
		require.Equal(t, []string{"s-2", "s-1", "s-3"}, all(models.SiteFilter{ByName: true, Search: "s-"}, limit))
	}
	for search, want := range map[string][]string{
		"lowen": {"s-3"}, "LÖWEN zum": {"s-3"}, "agua": {"s-2"}, "zolw": {"s-1"}, "S-2": {"s-2"}, "100%": {"s-1"}, "%": {"s-1"},
		"r_4": {"pier_4"}, "s_3": nil, "zum gelo": nil, "  ": {"pier_4", "s-1", "s-2", "s-3"}, `\`: nil,
	} {
		got, _ := list(models.SiteFilter{Search: search}, models.Page{})
		require.Equal(t, want, got, "search for %q", search)
	}
	got, _ := list(models.SiteFilter{Sites: []string{"s-1"}, Search: "lowen"}, models.Page{})
	require.Empty(t, got, "a search stays within the site")

	put("s-3", "Am Kanal", "*")
	got, _ = list(models.SiteFilter{Search: "lowen"}, models.Page{})
	require.Empty(t, got, "a renamed shop isn't found by its old name")
	first, err := s.SiteList(ctx, models.SiteFilter{ByName: true}, models.Page{Limit: 2})
	require.NoError(t, err)
	require.Equal(t, []models.SiteSummary{{Code: "s-2", Name: "Água e Gelo"}, {Code: "s-3", Name: "Am Kanal"}}, first.Rows)
	_, err = s.SiteList(ctx, models.SiteFilter{}, models.Page{Cursor: *first.Next})
	isCode(t, models.CodeInvalid, err)
	_, err = s.SiteList(ctx, models.SiteFilter{}, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)
}

// changesCounted counts changes of what plans and warnings follow from, and no others.
func changesCounted(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("annex"), "", t0)
	require.NoError(t, err)
	state := func(site string) (int64, models.Watched) {
		n, w, err := s.WatchState(ctx, site)
		require.NoError(t, err)
		return n, w
	}
	elsewhere, _ := state("annex")
	drink := "flash"
	for what, change := range map[string]func() error{
		"the set-up": func() error {
			changed := setupOf(shop)
			changed.Site.Name = "Renamed"
			_, _, err := s.PutSetup(ctx, changed, "*", t0)
			return err
		},
		"counts":          func() error { _, err := s.PutCounts(ctx, shop, post(count("a", 0, 15, 1)), t0, "", ""); return err },
		"the same counts": func() error { _, err := s.PutCounts(ctx, shop, post(count("a", 0, 15, 1)), at(1), "", ""); return err },
		"mappings": func() error {
			return s.PutMappings(ctx, shop, []models.ItemMapping{{Source: "till", Item: "a", Drink: &drink, Factor: 1}})
		},
		"expected demand": func() error {
			return s.PutExpectedDemand(ctx, shop, []models.ExpectedDemand{{Date: "2026-07-11", DayPart: "am", Drink: drink}}, t0)
		},
		"weather": func() error { return s.PutWeather(ctx, shop, models.WeatherPost{IssuedAt: t0}) },
		"a high":  func() error { return s.PutWeatherHigh(ctx, shop, "2026-07-11", new(31.0), t0) },
		"the forecast": func() error {
			return s.PutForecastState(ctx, shop, models.ForecastState{Through: "2026-07-10", Learnt: []byte{1}, Past: []byte{2}})
		},
		"events":         func() error { return s.PutEvents(ctx, shop, []models.Event{{From: t0, To: at(60), Name: "fair"}}) },
		"off-sale spans": func() error { return s.PutOffSale(ctx, shop, []models.OffSale{{Drink: drink, From: t0}}) },
		"outages":        func() error { return s.PutOutages(ctx, shop, []models.Outage{{Kind: "tank", From: t0, To: at(60)}}) },
		"attention":      func() error { return s.PutAttention(ctx, shop, []models.Attention{{From: t0, To: at(60)}}) },
		"stock counts":   func() error { return s.AddStockCount(ctx, shop, models.StockCount{CountedAt: t0}, t0) },
		"stock changes":  func() error { return s.AddStockChanges(ctx, shop, []models.StockChange{{At: t0, Kind: "bought"}}, t0) },
		"a plan": func() error {
			_, _, err := s.AddPlan(ctx, shop, models.Plan{Digest: "d"}, models.PlanRequest{}, t0)
			return err
		},
		"a published sheet": func() error {
			return s.PutSheets(ctx, shop, []models.PrepSheet{{Date: "2026-07-11", Revision: 1, Tasks: []models.Task{{ID: "brew"}}}})
		},
	} {
		before, _ := state(shop)
		require.NoError(t, change(), what)
		after, _ := state(shop)
		require.Greater(t, after, before, "%s", what)
	}
	before, w := state(shop)
	require.NotEqual(t, before, w.Changes, "no check has seen it")
	added, err := s.AddMark(ctx, shop, models.TaskMark{Task: "brew", State: models.Made, At: t0, Key: "k"}, t0)
	require.NoError(t, err)
	require.True(t, added)
	seen, _ := state(shop)
	require.Greater(t, seen, before)

	require.NoError(t, s.PutWatched(ctx, shop, models.Watched{Changes: seen, AgainAt: at(60)}))
	_, err = s.SyncWarnings(ctx, shop, []string{"ice_short"}, nil, t0)
	require.NoError(t, err)
	require.NoError(t, s.PutTrackRecord(ctx, shop, models.TrackRecord{}))
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "plan", At: t0})
	require.NoError(t, err)
	after, w := state(shop)
	require.Equal(t, models.Watched{Changes: seen, AgainAt: at(60).UTC()}, w)
	require.Equal(t, seen, after, "what nothing follows from doesn't count")
	other, _ := state("annex")
	require.Equal(t, elsewhere, other, "another site's changes don't count")
}
