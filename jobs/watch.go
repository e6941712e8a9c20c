package jobs

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/say"
)

// watch looks at what runs short on the days that are planned, and at what the shop has stopped saying: it opens a warning once,
// updates it while it stands, and closes it when it is gone.
func (c Config) watch(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now := c.Now()
	d, planned, err := c.draft(ctx, j.Site, "", now, planner.Options{WithoutWaysOut: true})
	if err != nil {
		return c.hopeless(j, "look at what runs short", err)
	}
	if !planned {
		if d.req.Setup, _, err = c.Store.Setup(ctx, j.Site); err != nil {
			return c.hopeless(j, "look at what runs short", err)
		}
	}
	open, err := openByKey(ctx, c.Store, j.Site)
	if err != nil {
		return c.hopeless(j, "look at what runs short", err)
	}
	if planned && d.hasNews(open) { // the ways out cost several plans; what reads as before keeps those it has
		if d.plan, err = c.Compute(ctx, d.req, planner.Options{}); err != nil {
			return nil, fmt.Errorf("find ways out for %s: %w", j.Site, err)
		}
	}
	return func(tx models.Store) error { return c.warn(ctx, tx, d, now) }, nil
}

// Bounds of silence and age.
const (
	silentAfter   = 45 * time.Minute
	countOldAfter = 24 * time.Hour
)

// silence says that the point of sale has stopped posting: no window has ended for 45 minutes of opening hours, at a site that
// has posted before.
func silence(ctx context.Context, st models.Store, site models.Site, now time.Time) ([]models.Warning, error) {
	last, err := st.LastCountAt(ctx, site.Code)
	if err != nil || last.IsZero() {
		return nil, err
	}
	for _, open := range site.OpenSpans(site.ServiceDayOf(now)) {
		since := last
		if open.From.After(since) {
			since = open.From
		}
		if !open.Contains(now) || now.Sub(since) < silentAfter {
			continue
		}
		quiet, v := now.Sub(since).Minutes(), say.For(site)
		return []models.Warning{{
			Kind: models.WarnSalesSilent, Grade: models.GradeActToday, At: since, Amount: quiet, Unit: "min", ChancePct: 100,
			Cause:  v.Say("warn.no_counts", "at", v.Clock(since)),
			Fields: []string{"sold"},
			WaysOut: []models.WayOut{{
				Action: v.Say("way.till"),
				Change: []byte("{}"),
			}},
		}}, nil
	}
	return nil, nil
}

// oldCount says that nobody has counted the ice for a day, while the shop is open.
func oldCount(ctx context.Context, st models.Store, site models.Site, ice models.Ice, now time.Time) ([]models.Warning, error) {
	open := false
	for _, s := range site.OpenSpans(site.ServiceDayOf(now)) {
		open = open || s.Contains(now)
	}
	counts, err := st.StockCounts(ctx, site.Code, now.Add(-countOldAfter), now.Add(time.Second))
	if err != nil || !open {
		return nil, err
	}
	for _, n := range counts {
		if n.IceG != nil {
			return nil, nil
		}
	}
	if ice.CountedAt != nil && now.Sub(*ice.CountedAt) < countOldAfter {
		return nil, nil
	}
	v := say.For(site)
	return []models.Warning{{
		Kind: models.WarnStockCountOld, Grade: models.GradeNote, At: now, Amount: countOldAfter.Hours(), Unit: "h", ChancePct: 100,
		Cause:   v.Say("warn.no_ice_count"),
		Fields:  []string{"ice.counted_at"},
		WaysOut: []models.WayOut{{Action: v.Say("way.count_ice"), Change: []byte("{}")}},
	}}, nil
}
