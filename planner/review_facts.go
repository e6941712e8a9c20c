package planner

import (
	"context"
	"slices"
	"time"

	"hotday/models"
)

func gatherFacts(ctx context.Context, st models.Store, site string, from models.Date, days int, now time.Time) (f pastFacts, err error) {
	if f.setup, _, err = st.Setup(ctx, site); err != nil {
		return f, err
	}
	s := &f.setup.Site
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, Now: now}, r: &models.PlanRequest{Setup: f.setup}, today: s.ServiceDayOf(now)}
	to := min(from.AddDays(days), g.today)
	start, end := from.At(0, s.Location()), now
	if to > from {
		end = s.DayEnd(to.AddDays(-1))
	}
	if g.events, err = st.Events(ctx, site, start, end); err != nil {
		return f, err
	}
	mapped, err := g.mappedDrinks()
	if err != nil {
		return f, err
	}
	if f.off, err = g.offSaleIn(start, end); err != nil {
		return f, err
	}
	for d := from; d < to; d = d.AddDays(1) {
		if err := ctx.Err(); err != nil {
			return f, err
		}
		day, err := g.pastDay(d, mapped, f.off)
		if err != nil {
			return f, err
		}
		f.days = append(f.days, factDay{PastDay: day})
	}
	if f.changes, err = st.StockChanges(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.counts, err = st.StockCounts(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.warned, err = st.WarningsOpened(ctx, site, start.AddDate(0, 0, -14), end); err != nil {
		return f, err
	}
	if record, found, err := st.TrackRecord(ctx, site); err != nil {
		return f, err
	} else if found {
		f.record = &record
	}
	if err := said(ctx, &f, st, from, to); err != nil {
		return f, err
	}
	return f, marked(ctx, &f, st, from, to, now)
}

func said(ctx context.Context, f *pastFacts, st models.Store, from, to models.Date) error {
	site := f.setup.Site.Code
	said, err := st.SaidDays(ctx, site, from, to)
	if err != nil {
		return err
	}
	sheets, err := st.Sheets(ctx, site, from, to)
	if err != nil {
		return err
	}
	for i := range f.days {
		d := &f.days[i]
		if k := slices.IndexFunc(said, func(s models.SaidDay) bool { return s.Date == d.Date }); k >= 0 {
			d.said = &said[k]
		}
		if k := slices.IndexFunc(sheets, func(s models.PrepSheet) bool { return s.Date == d.Date }); k >= 0 {
			d.sheet = &sheets[k]
		}
	}
	return nil
}

// marked reads off the marks which batches were made and what was thrown away.
func marked(ctx context.Context, f *pastFacts, st models.Store, from, to models.Date, now time.Time) error {
	marks, err := st.Marks(ctx, f.setup.Site.Code, from, to)
	if err != nil {
		return err
	}
	known := map[string]models.Task{}
	for _, d := range f.days {
		if d.sheet != nil {
			for _, t := range d.sheet.Tasks {
				known[t.ID] = t
			}
		}
	}
	made := map[string]int{}
	for _, of := range byTask(marks, now) {
		m, ok := models.Standing(of)
		if !ok || m.State != models.Made {
			continue
		}
		t, ok := known[m.Task]
		if !ok { // of a sheet that was replaced: what was done was done
			if _, _, t, _, err = st.Task(ctx, m.Task); err != nil {
				return err
			}
		}
		if t.Kind == models.TaskDiscard {
			if bev := discarded(f, &t); bev != "" {
				f.poured = append(f.poured, pouredMark{f.setup.Site.ServiceDayOf(m.At), bev, m.BeverageG})
			}
			continue
		}
		if t.Batch == nil || (t.Kind == models.TaskBrew && !t.Batch.StrainAt.IsZero()) {
			continue // a steeped one is beverage when it is strained
		}
		b := madeBatch{f.setup.Site.ServiceDayOf(m.At), m.At, t.Batch.Beverage, t.Batch.BeverageG}
		if m.BeverageG != nil {
			b.g = *m.BeverageG
		}
		id := string(t.Batch.Date) + " " + t.Batch.ID
		if i, had := made[id]; !had {
			made[id] = len(f.batches)
			f.batches = append(f.batches, b)
		} else if m.BeverageG != nil || b.at.After(f.batches[i].at) {
			if m.BeverageG == nil {
				b.g = f.batches[i].g
			}
			f.batches[i] = b
		}
	}
	return nil
}

// discarded is the beverage of a task of throwing away: its batch's, else the one whose name its words begin with.
func discarded(f *pastFacts, t *models.Task) string {
	if t.Batch != nil {
		return t.Batch.Beverage
	}
	for i := range f.setup.Beverages {
		b := &f.setup.Beverages[i]
		for _, name := range []string{b.Name, b.Code} {
			if name != "" && len(t.Say) > len(name) && t.Say[:len(name)] == name && t.Say[len(name)] == ':' {
				return b.Code
			}
		}
	}
	return ""
}
