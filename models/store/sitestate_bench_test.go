package store_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// BenchmarkSiteStates lists 5,000 shops: a page of 100 for the whole organisation, of a search, and for a key of a group of 2,500.
func BenchmarkSiteStates(b *testing.B) {
	s := openSQLite(b)
	const shops = 5000
	var group []string
	require.NoError(b, s.Within(ctx, func(tx models.Store) error {
		for i := range shops {
			code := fmt.Sprintf("shop-%04d", i)
			if i%2 == 0 {
				group = append(group, code)
			}
			if _, _, err := tx.PutSetup(ctx, setupOf(code), "", t0); err != nil {
				return err
			}
			state := models.SiteState{Site: code, Name: "Shop " + code, Today: "2026-07-10", NextDay: "2026-07-11", HighC: new(35.0), Drinks: new(240.0), Plan: models.PlanMade,
				PlannedAt: new(t0), Published: new(t0), PublishDue: new(t0), CountsAt: new(t0), WeatherAt: new(t0), StockAt: new(t0), IceG: new(12000.0), Rank: 100 * (i % 10),
				Warning: &models.StateWarning{Kind: models.WarnIceShort, Grade: models.GradeActToday, At: t0, Cause: "Ice runs out around 4 pm, 4 kg short."}}
			r := models.SiteRecord{State: state, Days: []models.Date{"2026-07-10", "2026-07-11"}}
			for n := range 12 {
				r.Needs = append(r.Needs, models.SiteNeed{Date: "2026-07-11", Kind: models.NeedSupply, Name: fmt.Sprint("supply ", n), Unit: "g", Amount: 100})
			}
			if err := tx.PutSiteState(ctx, models.StaleState{Site: code, Changes: 1}, r, at(600)); err != nil {
				return err
			}
		}
		return nil
	}))
	list := func(f models.SiteStateFilter) func(*testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				page, err := s.SiteStates(ctx, f, models.Page{Limit: 100})
				if err != nil || len(page.Rows) != 100 {
					b.Fatal(err, len(page.Rows))
				}
			}
		}
	}
	b.Run("all", list(models.SiteStateFilter{}))
	b.Run("search", list(models.SiteStateFilter{Text: "shop 42"}))
	b.Run("group", list(models.SiteStateFilter{Among: group}))
	b.Run("orders", func(b *testing.B) {
		for b.Loop() {
			records, err := s.SiteRecords(ctx, models.SiteStateFilter{})
			if err != nil || len(models.OrdersOf(records, "2026-07-10", "2026-07-12").Totals) != 12 {
				b.Fatal(err)
			}
		}
	})
}
