package jobs

import (
	"context"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/say"
)

// watch checks the planned days for shortages and the site for missing reports, and opens, updates and closes warnings. The days are only
// planned again if something has changed since the last whole check, or time alone may change what it found.
func (c Config) watch(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now := c.Now()
	changes, last, err := c.Store.WatchState(ctx, j.Site)
	if err != nil {
		return c.hopeless(ctx, j, "check for shortages", err)
	}
	if wait := last.AgainAt.Sub(now); changes == last.Changes && wait > 0 && wait <= wholeCheckEvery { // longer only after the clock was set back
		return c.tellAgain(ctx, j, now)
	}
	open, err := openByKey(ctx, c.Store, j.Site)
	if err != nil {
		return c.hopeless(ctx, j, "check for shortages", err)
	}
	// Unchanged warnings keep their fixes.
	d, planned, err := c.draft(ctx, j, "", now, planner.Options{}, func(d *draft) bool { return d.hasNewWarnings(open) })
	if err != nil {
		return c.hopeless(ctx, j, "check for shortages", err)
	}
	if !planned {
		if d.req.Setup, _, err = c.Store.Setup(ctx, j.Site); err != nil {
			return c.hopeless(ctx, j, "check for shortages", err)
		}
	}
	seen := models.Watched{Changes: changes}
	if seen.AgainAt, err = c.wholeCheckAt(ctx, &d, now); err != nil {
		return c.hopeless(ctx, j, "check for shortages", err)
	}
	return func(tx models.Store) error {
		if err := c.warn(ctx, tx, d, now); err != nil {
			return err
		}
		return tx.PutWatched(ctx, j.Site, seen)
	}, nil
}

// tellAgain is a check that finds nothing new. Somebody may have asked for messages since the last one.
func (c Config) tellAgain(ctx context.Context, j models.Job, now time.Time) (func(models.Store) error, error) {
	open, err := c.Store.OpenWarnings(ctx, j.Site)
	if err != nil || len(open) == 0 {
		return nil, err
	}
	return func(tx models.Store) error { return c.tellOf(ctx, tx, j.Site, now) }, nil
}

const (
	silentAfter   = 45 * time.Minute // without sales counts
	countOldAfter = 24 * time.Hour   // without an ice count
)

// silentTill warns that the point of sale has stopped posting: no counts have arrived for silentAfter of opening hours, at a site that
// has posted before. When they arrived is known by the service's clock; what a till's clock says does not matter.
func silentTill(ctx context.Context, st models.Store, site models.Site, now time.Time) ([]models.Warning, error) {
	last, err := st.CountsReceivedAt(ctx, site.Code)
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
			Fixes: []models.Fix{{
				Action: v.Say("way.till"),
				Change: []byte("{}"),
			}},
		}}, nil
	}
	return nil, nil
}

// oldCount warns, while the shop is open, that the ice has not been counted for countOldAfter.
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
		Cause:  v.Say("warn.no_ice_count"),
		Fields: []string{"ice.counted_at"},
		Fixes:  []models.Fix{{Action: v.Say("way.count_ice"), Change: []byte("{}")}},
	}}, nil
}
