package jobs

import (
	"context"
	"time"

	"hotday/models"
	"hotday/planner"
)

// wholeCheckEvery is the longest time between two whole checks for shortages of a site with nothing new: as the clock moves on, chances drift
// a little even where everything goes as planned.
const wholeCheckEvery = time.Hour

// wholeCheckAt is when time alone may change what a whole check finds: the next instant at which something that is known begins or ends, at
// most wholeCheckEvery from now.
func (c Config) wholeCheckAt(ctx context.Context, d *draft, now time.Time) (time.Time, error) {
	next := nextOf{now: now, at: now.Add(wholeCheckEvery)}
	next.byPlan(d)
	err := c.Store.Read(ctx, func(st models.Store) error {
		if err := next.bySilence(ctx, st, d); err != nil {
			return err
		}
		return next.byReports(ctx, st, d.req.Site.Code, d.req.Site.ServiceDayOf(now))
	})
	return next.at, err
}

// nextOf is the earliest of several instants from now on.
type nextOf struct{ now, at time.Time }

func (n *nextOf) by(list ...time.Time) {
	for _, t := range list {
		if !t.Before(n.now) && t.Before(n.at) {
			n.at = t
		}
	}
}

// within is by for what changes at an instant of a slot that the planner rounds up to: from its beginning on each check is a whole one.
func (n *nextOf) within(slot time.Duration, at time.Time) {
	if n.now.Before(at) {
		n.by(models.Later(at.Add(-slot), n.now))
	}
}

// byPlan takes account of what the request and the published sheets say.
func (n *nextOf) byPlan(d *draft) {
	site := &d.req.Site
	today := site.ServiceDayOf(n.now)
	for _, day := range []models.Date{today.AddDays(-1), today, today.AddDays(1)} {
		n.by(site.DayEnd(day))
		for _, span := range site.OpenSpans(day) {
			n.by(span.From, span.To)
		}
		for _, p := range site.DayParts {
			span := site.DayPartSpan(day, p)
			n.by(span.From, span.To)
		}
	}
	for _, x := range d.req.Outages {
		n.by(x.From, x.To)
	}
	for _, x := range d.req.Attention {
		n.by(x.From, x.To)
	}
	for _, x := range d.req.Events {
		n.by(x.From, x.To)
	}
	slot := time.Duration(site.SlotMin) * time.Minute
	for _, counted := range []*time.Time{d.req.Ice.CountedAt, d.req.Ice.Plain.CountedAt} {
		if counted != nil {
			n.within(slot, counted.Add(planner.CountOldAfter))
			n.by(counted.Add(countOldAfter))
		}
	}
	takes := map[string]time.Duration{} // from the start of a task's batch until it is ready
	for _, s := range d.sheets {
		for i := range s.Tasks { // those that nobody marks count as done in time
			t := &s.Tasks[i]
			n.by(t.At, t.Until)
			if t.Batch != nil {
				n.by(t.Batch.Start, t.Batch.Ready, t.Batch.StrainAt, t.Batch.UseBy)
				takes[t.ID] = t.Batch.Ready.Sub(t.Batch.Start)
			}
		}
	}
	for i := range d.req.UnderWay {
		u := &d.req.UnderWay[i]
		n.by(u.Start)
		if u.Beverage == nil {
			continue
		}
		if long, known := takes[u.Task]; known {
			n.by(u.Start.Add(long))
		} else if n.now.Sub(u.Start) < unknownBatch {
			n.at = n.now // of a replaced sheet: nobody knows here when it is ready
		}
	}
}

// unknownBatch is how long a batch that only a replaced sheet had may still be getting ready: the longest steep.
const unknownBatch = 36 * time.Hour

// bySilence takes account of when a till that posts nothing counts as silent. While one does, each check says for how long.
func (n *nextOf) bySilence(ctx context.Context, st models.Store, d *draft) error {
	site := d.req.Site
	silent, err := silentTill(ctx, st, site, n.now)
	if err != nil {
		return err
	}
	for _, w := range append(silent, d.plan.Warnings...) {
		if w.Kind == models.WarnSalesSilent {
			n.at = n.now
		}
	}
	received, err := st.CountsReceivedAt(ctx, site.Code)
	if err != nil || received.IsZero() {
		return err
	}
	slot := time.Duration(site.SlotMin) * time.Minute
	n.by(received.Add(silentAfter))
	for i := range d.req.Sold {
		n.within(slot, d.req.Sold[i].Until.Add(planner.SilentAfter))
	}
	for _, open := range site.OpenSpans(site.ServiceDayOf(n.now)) {
		n.by(open.From.Add(silentAfter))
		n.within(slot, open.From.Add(planner.SilentAfter))
	}
	return nil
}

// byReports takes account of off-sale spans, and of counts and marks that devices whose clocks are fast have sent.
func (n *nextOf) byReports(ctx context.Context, st models.Store, site string, today models.Date) error {
	off, err := st.OffSale(ctx, site, n.now, n.at)
	if err != nil {
		return err
	}
	for _, x := range off {
		n.by(x.From)
		if x.To != nil {
			n.by(*x.To)
		}
	}
	sold, err := st.Counts(ctx, site, models.SalesFilter{From: n.now, To: n.at}, models.Page{Limit: models.MaxLimit})
	if err != nil {
		return err
	}
	for i := range sold.Rows {
		n.by(models.Later(sold.Rows[i].WindowStart, n.now)) // of a window that has not ended, more counts with each moment
	}
	counted, err := st.StockCounts(ctx, site, n.now, n.at)
	if err != nil {
		return err
	}
	for i := range counted {
		n.by(counted[i].CountedAt)
	}
	moved, err := st.StockChanges(ctx, site, n.now, n.at)
	if err != nil {
		return err
	}
	for i := range moved {
		n.by(moved[i].At)
	}
	marks, err := st.Marks(ctx, site, today.AddDays(-1), today.AddDays(2))
	for i := range marks {
		n.by(marks[i].At)
	}
	return err
}
