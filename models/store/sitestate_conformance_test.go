package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func siteStates(t *testing.T, open opener) {
	s := withShop(t, open)
	for _, site := range []string{"lido", "pier", "moor"} {
		_, _, err := s.PutSetup(ctx, setupOf(site), "", t0)
		require.NoError(t, err)
	}
	stale, err := s.StaleStates(ctx, at(1), 10)
	require.NoError(t, err)
	require.Len(t, stale, 4, "new sites have no state yet")
	none, err := s.SiteStates(ctx, models.SiteStateFilter{}, models.Page{})
	require.NoError(t, err)
	require.Empty(t, none.Rows)
	all, err := s.SitesOf(ctx, models.SiteStateFilter{})
	require.NoError(t, err)
	require.Equal(t, []string{shop, "lido", "moor", "pier"}, all)
	ranks := map[string]int{shop: 100, "lido": 900, "pier": 0, "moor": 900}
	for _, x := range stale {
		r := models.SiteRecord{State: models.SiteState{Site: x.Site, Today: "2026-07-10", Name: "Café " + x.Site, Rank: ranks[x.Site]}, Days: []models.Date{"2026-07-10"},
			Lots: []models.SiteLot{{Coffee: "house", Lot: "L1"}}, Closed: []models.Date{"2026-07-12"}}
		require.NoError(t, s.PutSiteState(ctx, x, r, at(60)))
	}
	stale, err = s.StaleStates(ctx, at(59), 10)
	require.NoError(t, err)
	require.Empty(t, stale)
	stale, err = s.StaleStates(ctx, at(60), 10)
	require.NoError(t, err)
	require.Len(t, stale, 4, "their time has come")

	codes := func(f models.SiteStateFilter, p models.Page) (out []string, next *string) {
		t.Helper()
		page, err := s.SiteStates(ctx, f, p)
		require.NoError(t, err)
		for _, x := range page.Rows {
			out = append(out, x.Site)
		}
		return out, page.Next
	}
	got, next := codes(models.SiteStateFilter{}, models.Page{Limit: 3})
	require.Equal(t, []string{"lido", "moor", shop}, got)
	got, next = codes(models.SiteStateFilter{}, models.Page{Limit: 3, Cursor: *next})
	require.Equal(t, []string{"pier"}, got)
	require.Nil(t, next)
	got, _ = codes(models.SiteStateFilter{Among: []string{"pier", "lido"}}, models.Page{})
	require.Equal(t, []string{"lido", "pier"}, got)
	got, _ = codes(models.SiteStateFilter{Among: []string{}}, models.Page{})
	require.Empty(t, got)
	_, err = s.PutGroup(ctx, models.Group{Code: "north", Name: "North", Sites: []string{"pier"}})
	require.NoError(t, err)
	got, _ = codes(models.SiteStateFilter{Group: "north"}, models.Page{})
	require.Equal(t, []string{"pier"}, got)
	got, _ = codes(models.SiteStateFilter{Text: "CAFÉ PI"}, models.Page{})
	require.Equal(t, []string{"pier"}, got)
	got, _ = codes(models.SiteStateFilter{Text: "%"}, models.Page{})
	require.Empty(t, got)
	_, err = s.SiteStates(ctx, models.SiteStateFilter{}, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)
	records, err := s.SiteRecords(ctx, models.SiteStateFilter{Text: "pier"})
	require.NoError(t, err)
	require.Equal(t, []models.Date{"2026-07-12"}, records[0].Closed)
	require.Equal(t, "L1", records[0].Lots[0].Lot)

	// A change during the computation is not lost; sales counts may wait.
	old := stale[0]
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: old.Site, Kind: "mark", At: at(2)})
	require.NoError(t, err)
	require.NoError(t, s.PutSiteState(ctx, old, models.SiteRecord{State: models.SiteState{Site: old.Site, Today: "2026-07-10"}}, at(120)))
	again, err := s.StaleStates(ctx, at(2), 10)
	require.NoError(t, err)
	require.Len(t, again, 1)
	require.Greater(t, again[0].Changes, old.Changes)
	require.NoError(t, s.PutSiteState(ctx, again[0], models.SiteRecord{State: models.SiteState{Site: old.Site, Today: "2026-07-10"}}, at(120)))
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: old.Site, Kind: "demand", At: at(3)})
	require.NoError(t, err)
	again, err = s.StaleStates(ctx, at(4), 10)
	require.NoError(t, err)
	require.Empty(t, again)
	again, err = s.StaleStates(ctx, at(9), 10)
	require.NoError(t, err)
	require.Len(t, again, 1)

	require.NoError(t, s.DeleteSite(ctx, "pier"))
	all, err = s.SitesOf(ctx, models.SiteStateFilter{})
	require.NoError(t, err)
	require.NotContains(t, all, "pier")
	isCode(t, models.CodeNotFound, s.PutSiteState(ctx, models.StaleState{Site: "pier"}, models.SiteRecord{}, at(60)))
}

func lotTasks(t *testing.T, open opener) {
	s := withShop(t, open)
	brew := func(id, lot string) models.Task {
		return models.Task{ID: id, At: t0, Kind: models.TaskBrew, Station: "Left", Lots: []models.LotUse{{Lot: lot, G: 465}}}
	}
	put := func(tasks ...models.Task) {
		t.Helper()
		require.NoError(t, s.PutSheets(ctx, shop, []models.PrepSheet{{Date: "2026-07-10", Revision: 1, PublishedAt: t0, Tasks: tasks}}))
	}
	put(brew("a", "L1"), brew("b", "L10"), models.Task{ID: "c", At: t0, Kind: models.TaskPull, Pulls: []models.BeanPull{{Lot: "L1"}}}, brew("d", `L%"`))
	put(brew("e", "L1"))
	of := func(lot string, from, to models.Date) (out []string) {
		t.Helper()
		list, err := s.TasksOfLot(ctx, shop, lot, from, to)
		require.NoError(t, err)
		for _, x := range list {
			out = append(out, x.ID)
		}
		return out
	}
	require.Equal(t, []string{"a", "e"}, of("L1", "2026-07-10", "2026-07-11"), "also of replaced sheets, and no other lot or kind")
	require.Equal(t, []string{"d"}, of(`L%"`, "2026-07-10", "2026-07-11"))
	require.Empty(t, of("L%", "2026-07-10", "2026-07-11"))
	require.Empty(t, of("L1", "2026-07-11", "2026-07-12"))
	_, err := s.TasksOfLot(ctx, "nowhere", "L1", "2026-07-10", "2026-07-11")
	isCode(t, models.CodeNotFound, err)
}
