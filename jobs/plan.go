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

// draft is a plan that is not stored yet, with the plans and sheets to compare it with.
type draft struct {
	job     models.Job // that it is for
	req     models.PlanRequest
	plan    models.Plan
	latest  *models.Plan       // latest stored plan; nil: none
	current *models.Plan       // if the manager dismissed the latest plan: the one that the kitchen works from
	sheets  []models.PrepSheet // published sheets, from the day before the plan's first day to its last
}

// maxDays bounds the days that a job plans.
const maxDays = 7

// draft replans the remaining days of the latest plan, and day if it is given. Today is included if it has a published sheet; days
// before a plan that lies in the future are not added. The plan has fixes only if it is wanted: see fill. ok is false if there is nothing
// to plan.
func (c Config) draft(ctx context.Context, j models.Job, day models.Date, now time.Time, o planner.Options, wanted func(*draft) bool) (d draft, ok bool, err error) {
	site := j.Site
	d.job = j
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
	days := min(from.DaysUntil(to)+1, maxDays)
	return d, true, c.fill(ctx, &d, facts.GatherQuery{Site: site, From: from, Days: days, Now: now}, o, wanted)
}

// latest returns the latest stored plan, nil if there is none.
func (c Config) latest(ctx context.Context, site string) (*models.Plan, error) {
	p, err := c.Store.LatestPlanAlone(ctx, site)
	switch {
	case err == nil:
		return &p, nil
	case models.CodeOf(err) == models.CodeNotFound:
		return nil, nil
	}
	return nil, fmt.Errorf("read the latest plan: %w", err)
}

// fill gathers the facts and computes the plan. Its fixes, which take longer than the plan itself, are computed only if wanted, given the
// draft without them, says that somebody will see it; nil: always.
func (c Config) fill(ctx context.Context, d *draft, q facts.GatherQuery, o planner.Options, wanted func(*draft) bool) (err error) {
	if err := c.read(ctx, d, q); err != nil {
		return err
	}
	if wanted != nil {
		o.FixesIf = func(p models.Plan) bool {
			d.plan = p
			return wanted(d)
		}
	}
	return c.compute(ctx, d, o, true)
}

// read gathers the facts and the published sheets.
func (c Config) read(ctx context.Context, d *draft, q facts.GatherQuery) (err error) {
	if d.req, err = c.Gather(ctx, c.Store, q); err != nil {
		return err
	}
	d.sheets, err = c.Store.Sheets(ctx, q.Site, q.From.AddDays(-1), q.From.AddDays(q.Days))
	return err
}

// compute computes the plan of the facts, close to the plan before if it is to be.
func (c Config) compute(ctx context.Context, d *draft, o planner.Options, close bool) error {
	if close {
		before, err := c.before(ctx, d, d.req.Site.Code)
		if err != nil {
			return err
		}
		o.Before, o.ChoicesBefore, o.BeforeAt = before.Batches, before.Choices, before.ComputedAt
	}
	plan, err := c.computed(ctx, d.job, d.req, o)
	if err != nil {
		return fmt.Errorf("plan %s from %s: %w", d.req.Site.Code, d.req.From, err)
	}
	d.plan = plan
	return nil
}

// before returns the plan whose batches a new one should stay close to, so that the kitchen sees no needless changes: the latest plan
// or, if the manager dismissed it, the plan that the kitchen works from, with its batches as the kitchen has them.
func (c Config) before(ctx context.Context, d *draft, site string) (p models.Plan, err error) {
	if d.latest == nil {
		return p, nil
	}
	heads, err := c.Store.Plans(ctx, site, models.Page{Limit: 1})
	if err != nil {
		return p, err
	}
	dismissed, revision := len(heads.Rows) > 0 && heads.Rows[0].SetAsideAt != nil, 0
	for _, s := range d.sheets {
		revision = max(revision, s.Revision)
	}
	p = *d.latest
	if dismissed && revision > 0 {
		if p, _, err = c.Store.Plan(ctx, site, revision); err != nil {
			return p, err
		}
		current := p
		d.current = &current
	}
	p.Batches = sheet.Kept(d.wanted(p.Batches), d.sheets)
	return p, nil
}

// wanted returns the batches without those that somebody skipped: a replan would leave alone the next two hours of the plan before.
func (d draft) wanted(batches []models.BatchTask) []models.BatchTask {
	skipped := map[string]bool{}
	for _, s := range d.sheets {
		for _, t := range s.Tasks {
			if t.Kind == models.TaskBrew && t.Batch != nil && t.State == models.Skipped {
				skipped[t.Batch.ID] = true
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(batches), func(b models.BatchTask) bool { return skipped[b.ID] })
}

// published reports whether the date has a published sheet.
func (d draft) published(date models.Date) bool {
	return slices.ContainsFunc(d.sheets, func(s models.PrepSheet) bool { return s.Date == date })
}

// newSheets returns the sheets of the wanted dates that are not published yet or differ from the published ones.
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

// store stores the plan, the new sheets of the wanted dates, and their events.
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
		data := models.SheetPublished{Date: s.Date, Revision: s.Revision, Changes: s.Changes}
		if err := addEvent(ctx, tx, site, "sheet", now, data); err != nil {
			return err
		}
	}
	return nil
}

// stillLatest returns an error, so that the job is retried, if a plan was stored since the draft was made: storing the draft would
// discard its changes.
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
		return fmt.Errorf("plan %d was stored while another was being computed from plan %d", list.Rows[0].Revision, before)
	}
	return nil
}

// changes describes the differences from the latest plan.
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

// PlanAndPublish plans the days of q and publishes all their prep sheets, in one step.
func PlanAndPublish(ctx context.Context, st models.Store, q facts.GatherQuery) (models.Plan, []models.PrepSheet, error) {
	c := Config{Store: st}.withDefaults()
	d := draft{job: models.Job{Kind: models.JobPlan, Site: q.Site}}
	var err error
	if d.latest, err = c.latest(ctx, q.Site); err != nil {
		return models.Plan{}, nil, err
	}
	if err := c.fill(ctx, &d, q, planner.Options{}, nil); err != nil {
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
	plan, err := st.LatestPlanAlone(ctx, q.Site)
	if err != nil {
		return models.Plan{}, nil, err
	}
	sheets, err := st.Sheets(ctx, q.Site, q.From.AddDays(-1), q.From.AddDays(q.Days))
	return plan, sheets, err
}
