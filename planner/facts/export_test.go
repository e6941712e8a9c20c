package facts

import (
	"context"
	"time"

	"hotday/models"
)

// CountedOn returns the counts of a service day as Gather reads them: servings by "part drink".
func CountedOn(ctx context.Context, st models.Store, site string, d models.Date, now time.Time) (map[string]float64, error) {
	setup, _, err := st.Setup(ctx, site)
	if err != nil {
		return nil, err
	}
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, From: d, Days: 1, Now: now}, r: &models.PlanRequest{Setup: setup}, today: setup.Site.ServiceDayOf(now)}
	day, err := g.day(d, now)
	out := map[string]float64{}
	for k, n := range day.counts {
		out[k.part+" "+k.drink] = n
	}
	return out, err
}

// OffSaleOn returns the spans off sale on a service day before now as Gather reads them.
func OffSaleOn(ctx context.Context, st models.Store, site string, d models.Date, now time.Time) ([]models.OffSale, error) {
	setup, _, err := st.Setup(ctx, site)
	if err != nil {
		return nil, err
	}
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, From: d, Days: 1, Now: now}, r: &models.PlanRequest{Setup: setup}, today: setup.Site.ServiceDayOf(now)}
	return g.offSaleIn(d.At(0, setup.Site.Location()), now)
}
