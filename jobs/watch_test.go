package jobs

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// watchAt runs the watch job at a local time as a whole check, since the test has changed the plan's warnings, and returns the open warnings.
func (s *shop) watchAt(clock string) []models.OpenWarning {
	s.t.Helper()
	require.NoError(s.t, s.Store.PutWatched(s.t.Context(), s.site, models.Watched{Changes: -1}))
	return s.checkAt(clock)
}

// checkAt runs the watch job at a local time and returns the open warnings.
func (s *shop) checkAt(clock string) []models.OpenWarning {
	s.t.Helper()
	s.at(clock)
	s.do(models.Job{Kind: models.JobWatch, Site: s.site, Key: s.now.UTC().Format(time.RFC3339)})
	open, err := s.Store.OpenWarnings(s.t.Context(), s.site)
	require.NoError(s.t, err)
	return open
}

func short(chance, g float64, at time.Time) models.Warning {
	return models.Warning{Kind: models.WarnIceShort, Grade: models.GradeActToday, At: at, Amount: g, Unit: "g", ChancePct: chance,
		Cause: "The maker is too small.", Fields: []string{"ice.makers.0.kg_per_day_rated"}}
}

func TestWarningIsOpenedOnceUpdatedAndClosed(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	count := 20000.0
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	at := s.now.Add(7 * time.Hour)

	s.warnings = []models.Warning{short(18, 900, at)}
	require.Empty(t, s.watchAt("2026-07-09 08:10"), "not likely yet")

	s.warnings = []models.Warning{short(38, 6000, at)}
	open := s.watchAt("2026-07-09 08:20")
	require.Len(t, open, 1)
	id := open[0].ID

	require.Len(t, s.watchAt("2026-07-09 08:30"), 1, "unchanged")
	require.Len(t, s.events("warning"), 1, "no new event")
	require.Equal(t, 2, s.withFixes, "fixes are computed for the published plan and once when the warning opens")

	s.warnings = []models.Warning{short(61, 9000, at.Add(-45*time.Minute))}
	open = s.watchAt("2026-07-09 08:40")
	require.Len(t, open, 1)
	require.Equal(t, id, open[0].ID)
	require.InDelta(t, 61, open[0].ChancePct, 1e-9)
	require.Len(t, s.events("warning"), 2)

	s.warnings = []models.Warning{short(19, 1200, at)}
	require.Len(t, s.watchAt("2026-07-09 08:50"), 1, "a fluctuating chance does not close it")

	s.warnings = []models.Warning{short(8, 300, at)}
	require.Empty(t, s.watchAt("2026-07-09 09:00"))
	events := s.events("warning")
	var last struct{ Closed []string }
	require.NoError(t, json.Unmarshal(events[len(events)-1].Data, &last))
	require.Equal(t, []string{id}, last.Closed)

	s.warnings = []models.Warning{short(40, 6000, at)}
	open = s.watchAt("2026-07-09 09:10")
	require.Len(t, open, 1)
	require.NotEqual(t, id, open[0].ID, "a new warning")
}

func TestWarningsDifferByKindDayAndSubject(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	count := 20000.0
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	at := s.now.Add(7 * time.Hour)
	plain := short(90, 4000, at)
	plain.Fields = []string{"ice.plain.opening_g"}
	beverage := func(n string) models.Warning {
		return models.Warning{Kind: models.WarnBeverageShort, Grade: models.GradeNote, At: at, Amount: 900, Unit: "g", ChancePct: 30, Fields: []string{"beverages." + n + ".hold_h"}}
	}
	s.warnings = []models.Warning{short(50, 6000, at), plain, short(50, 6000, at.Add(24*time.Hour)), beverage("0"), beverage("2")}
	require.Len(t, s.watchAt("2026-07-09 08:10"), 5)
}

func TestSilentTillIsReportedDuringOpeningHours(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T06:00:00+02:00")
	count := 20000.0
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	require.Empty(t, s.checkAt("2026-07-09 09:30"), "a till that never posted is not silent")

	s.at("2026-07-08 17:45")
	post := models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "Iced house", WindowStart: s.now, WindowEnd: s.now.Add(15 * time.Minute), Count: 3}}}
	_, err := s.Store.PutCounts(t.Context(), s.site, post, s.now, "", "")
	require.NoError(t, err)
	require.Empty(t, s.checkAt("2026-07-09 06:50"), "the shop is closed")
	require.Empty(t, s.checkAt("2026-07-09 07:40"), "open for 40 minutes")
	open := s.checkAt("2026-07-09 07:50")
	require.Len(t, open, 1)
	require.Equal(t, models.WarnSalesSilent, open[0].Kind)
	require.NotEmpty(t, open[0].Fixes)

	s.at("2026-07-09 07:45")
	post.Counts[0].WindowStart, post.Counts[0].WindowEnd = s.now, s.now.Add(15*time.Minute)
	_, err = s.Store.PutCounts(t.Context(), s.site, post, s.now, "", "")
	require.NoError(t, err)
	require.Empty(t, s.checkAt("2026-07-09 08:00"), "it posts again")
	require.Len(t, s.checkAt("2026-07-09 08:50"), 1)
	require.Empty(t, s.checkAt("2026-07-09 18:10"), "after closing")
}

func TestATillWithAWrongClockDoesNotSilenceTheWarning(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T06:00:00+02:00")
	count := 20000.0
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	s.at("2026-07-09 07:45")
	for _, year := range []int{2199, 1995} {
		window := time.Date(year, 7, 9, 10, 0, 0, 0, time.UTC)
		post := models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "Iced house", WindowStart: window, WindowEnd: window.Add(15 * time.Minute), Count: 3}}}
		_, err := s.Store.PutCounts(t.Context(), s.site, post, s.now, "", "")
		require.NoError(t, err)
	}
	require.Empty(t, s.checkAt("2026-07-09 08:10"), "it has just posted")
	open := s.checkAt("2026-07-09 08:40")
	require.Len(t, open, 1)
	require.Equal(t, models.WarnSalesSilent, open[0].Kind)
}

func TestAnOldStockCountIsANote(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-07T08:00:00+02:00")
	count := 20000.0
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	require.Empty(t, s.checkAt("2026-07-07 17:00"))
	open := s.checkAt("2026-07-08 09:00")
	require.Len(t, open, 1)
	require.Equal(t, models.WarnStockCountOld, open[0].Kind)
	require.Equal(t, models.GradeNote, open[0].Grade)
	require.NoError(t, s.Store.AddStockCount(t.Context(), s.site, models.StockCount{CountedAt: s.now, IceG: &count}, s.now))
	require.Empty(t, s.checkAt("2026-07-08 09:10"))
}
