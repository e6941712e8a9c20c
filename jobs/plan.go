package jobs

import (
	"context"
	"fmt"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/sheet"
)

// draft is a plan that is not stored yet, with what it is to be compared with.
type draft struct {
	req    models.PlanRequest
	plan   models.Plan
	latest *models.Plan       // the newest stored one; nil: none
	kept   *models.Plan       // where the manager put the newest aside: the plan that the kitchen works from instead
	sheets []models.PrepSheet // published, from the day before the plan's first to its last
}

// mostDays bounds what a job plans.
const mostDays = 7

// draft plans anew the days of the latest plan that are not over, and day, where one is given. Today is among them where the
// shop works today from a plan; a plan that lies ahead is not widened by days that nobody planned. ok is false where there is
// nothing to plan.
func (c Config) draft(ctx context.Context, site string, day models.Date, now time.Time, o planner.Options) (d draft, ok bool, err error) {
	setup, _, err := c.Store.Setup(ctx, site)
	if err != nil {
		return d, false, err
	}
	from, to := day, day
	include := func(first, last models.Date) {
		if from == "" {
			from, to = first, last
		}
		from, to = min(from, first), max(to, last)
	}
	today := setup.Site.ServiceDayOf(now)
	if d.latest, err = c.latest(ctx, site); err != nil {
		return d, false, err
	}
	if d.latest != nil {
		if last := d.latest.From.AddDays(d.latest.Days - 1); last >= today {
			include(max(d.latest.From, today), last)
		}
	}
	if _, err := c.Store.Sheet(ctx, site, today); err == nil {
		include(today, today)
	} else if models.CodeOf(err) != models.CodeNotFound {
		return d, false, err
	}
	if from == "" {
		return d, false, nil
	}
	days := min(from.DaysUntil(to)+1, mostDays)
	return d, true, c.fill(ctx, &d, facts.GatherQuery{Site: site, From: from, Days: days, Now: now}, o)
}

// latest is the newest stored plan, nil where there is none.
func (c Config) latest(ctx context.Context, site string) (*models.Plan, error) {
	p, _, err := c.Store.LatestPlan(ctx, site)
	switch {
	case err == nil:
		return &p, nil
	case models.CodeOf(err) == models.CodeNotFound:
		return nil, nil
	}
	return nil, fmt.Errorf("read the latest plan: %w", err)
}

func (c Config) fill(ctx context.Context, d *draft, q facts.GatherQuery, o planner.Options) (err error) {
	if d.req, err = c.Gather(ctx, c.Store, q); err != nil {
		return err
	}
	if d.sheets, err = c.Store.Sheets(ctx, q.Site, q.From.AddDays(-1), q.From.AddDays(q.Days)); err != nil {
		return err
	}
	if o.Before, err = c.before(ctx, d, q.Site); err != nil {
		return err
	}
	if d.plan, err = c.Compute(ctx, d.req, o); err != nil {
		return fmt.Errorf("plan %s from %s: %w", q.Site, q.From, err)
	}
	return nil
}

// before are the batches that a new plan stays with, for a kitchen hates a plan that jumps for nothing: those of the latest plan, or,
// where the manager put that aside, of the plan that the kitchen works from.
func (c Config) before(ctx context.Context, d *draft, site string) ([]models.BatchTask, error) {
	if d.latest == nil {
		return nil, nil
	}
	heads, err := c.Store.Plans(ctx, site, models.Page{Limit: 1})
	if err != nil {
		return nil, err
	}
	aside, revision := len(heads.Rows) > 0 && heads.Rows[0].SetAsideAt != nil, 0
	for _, s := range d.sheets {
		revision = max(revision, s.Revision)
	}
	if !aside || revision == 0 {
		return d.latest.Batches, nil
	}
	p, _, err := c.Store.Plan(ctx, site, revision)
	d.kept = &p
	return p.Batches, err
}

// published reports whether a sheet of the date stands.
func (d draft) published(date models.Date) bool {
	return slices.ContainsFunc(d.sheets, func(s models.PrepSheet) bool { return s.Date == date })
}

// newSheets returns the sheets of the given dates that say something else than those published, and of dates not published yet.
func (d draft) newSheets(plan models.Plan, at time.Time, wanted func(models.Date) bool) []models.PrepSheet {
	var out []models.PrepSheet
	for _, s := range sheet.PrepSheets(d.req, plan, d.sheets, at) {
		if !wanted(s.Date) {
			continue
		}
		if d.published(s.Date) && len(s.Changes) == 0 {
			continue
		}
		out = append(out, s)
	}
	return out
}

// store writes the plan, the sheets of the wanted dates that differ, and the events that tell of them.
func (d *draft) store(ctx context.Context, tx models.Store, now time.Time, wanted func(models.Date) bool) error {
	site := d.req.Site.Code
	if err := d.stillLatest(ctx, tx); err != nil {
		return err
	}
	stored, added, err := tx.AddPlan(ctx, site, d.plan, d.req, now)
	if err != nil {
		return err
	}
	sheets := d.newSheets(stored, now, wanted)
	d.plan = stored
	if added {
		changes := d.changes()
		err := addEvent(ctx, tx, site, "plan", now, map[string]any{"revision": stored.Revision, "proposal": len(sheets) == 0, "changes": changes})
		if err != nil {
			return err
		}
	}
	if len(sheets) == 0 {
		return nil
	}
	if err := tx.PutSheets(ctx, site, sheets); err != nil {
		return err
	}
	for _, s := range sheets {
		data := map[string]any{"date": s.Date, "revision": s.Revision, "changes": s.Changes}
		if err := addEvent(ctx, tx, site, "sheet", now, data); err != nil {
			return err
		}
	}
	return nil
}

// stillLatest refuses a draft that was made from another plan than the latest: it would drop what that one knew. The job is then
// done again.
func (d *draft) stillLatest(ctx context.Context, tx models.Store) error {
	before := 0
	if d.latest != nil {
		before = d.latest.Revision
	}
	list, err := tx.Plans(ctx, d.req.Site.Code, models.Page{Limit: 1})
	if err != nil {
		return err
	}
	if len(list.Rows) > 0 && list.Rows[0].Revision != before {
		return fmt.Errorf("plan %d was stored while another was being made from plan %d", list.Rows[0].Revision, before)
	}
	return nil
}

// changes says in words what differs from the latest plan.
func (d draft) changes() []string {
	out := []string{}
	if d.latest == nil {
		return out
	}
	for _, ch := range sheet.Changes(*d.latest, d.plan, d.req.Setup) {
		out = append(out, ch.Text)
	}
	return out
}

// PlanAndPublish plans the days asked for and publishes all their prep sheets at once: what a manager does who plans and then
// publishes, in one go.
func PlanAndPublish(ctx context.Context, st models.Store, q facts.GatherQuery) (models.Plan, []models.PrepSheet, error) {
	c := Config{Store: st}.withDefaults()
	var d draft
	var err error
	if d.latest, err = c.latest(ctx, q.Site); err != nil {
		return models.Plan{}, nil, err
	}
	if err := c.fill(ctx, &d, q, planner.Options{}); err != nil {
		return models.Plan{}, nil, err
	}
	err = st.Within(ctx, func(tx models.Store) error {
		if err := d.store(ctx, tx, q.Now, func(models.Date) bool { return true }); err != nil {
			return err
		}
		return c.warn(ctx, tx, d, q.Now)
	})
	if err != nil {
		return models.Plan{}, nil, err
	}
	plan, _, err := st.LatestPlan(ctx, q.Site)
	if err != nil {
		return models.Plan{}, nil, err
	}
	sheets, err := st.Sheets(ctx, q.Site, q.From.AddDays(-1), q.From.AddDays(q.Days))
	return plan, sheets, err
}
