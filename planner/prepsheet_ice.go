package planner

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hotday/models"
)

// ice writes the quotas: a mould set's as loads to fill and take, a maker's as an amount to look for when it is due.
func (w *sheetWriter) ice() {
	moulds := map[string]*models.MouldSet{}
	for i := range w.req.Ice.Moulds {
		moulds[w.req.Ice.Moulds[i].Code] = &w.req.Ice.Moulds[i]
	}
	loads := map[sameSort][]mouldLoad{}
	var order []sameSort
	for i := range w.plan.Ice.Quotas {
		q := &w.plan.Ice.Quotas[i]
		m := moulds[q.Maker]
		if m == nil && len(q.Loads) == 0 {
			w.quota(q)
			continue
		}
		for _, l := range q.Loads {
			s := sameSort{w.page(l.FillAt), q.Maker, models.TaskIceFill, "load"}
			if loads[s] == nil {
				order = append(order, s)
			}
			loads[s] = append(loads[s], mouldLoad{l, q, m == nil || m.Treated})
		}
	}
	for _, s := range order {
		g := loads[s]
		slices.SortStableFunc(g, func(a, b mouldLoad) int {
			return cmp.Or(a.FillAt.Compare(b.FillAt), a.TakeAt.Compare(b.TakeAt))
		})
		times := make([]time.Time, len(g))
		for i, l := range g {
			times[i] = l.FillAt
		}
		for i, n := range w.numbers(s, times, make([]int, len(g))) {
			w.load(s, n, g[i])
		}
	}
}

// mouldLoad is one filling of a mould set with the quota that it belongs to.
type mouldLoad struct {
	models.IceLoad
	quota   *models.IceQuota
	treated bool
}

func (w *sheetWriter) partName(code string) string { return "the " + code + " part" }

func (w *sheetWriter) quota(q *models.IceQuota) {
	if q.MakeG < 0.5 {
		return
	}
	quota := *q
	w.put(w.page(q.Due), models.Task{
		ID: taskID(w.req.Site.Code, q.Date, q.Maker, models.TaskIceCheck, q.DayPart),
		At: q.Due, Station: q.Maker, Kind: models.TaskIceCheck, State: models.Due, Quota: &quota,
		Say:     fmt.Sprintf("By %s %s must have added %s since %s.", sheetClock(q.Due, w.loc), q.Maker, sheetKg(q.MakeG), sheetMoment(w.countsFrom(q), q.Due, w.loc)),
		Why:     fmt.Sprintf("Its share of the drink ice for %s and what comes after, as late as the bin allows.", w.partName(q.DayPart)),
		Caution: careIceFood,
	})
}

// countsFrom is when a quota begins to count: at the end of the day part before, at the earliest when the plan was made.
func (w *sheetWriter) countsFrom(q *models.IceQuota) time.Time {
	from := w.plan.ComputedAt
	own, ok := w.partSpan(q.Date, q.DayPart)
	if !ok {
		return from
	}
	for _, d := range []models.Date{q.Date.AddDays(-1), q.Date} {
		if len(w.req.Site.OpenSpans(d)) == 0 {
			continue
		}
		for _, p := range w.req.Site.DayParts {
			if to := w.req.Site.PartSpan(d, p).To; to.After(from) && !to.After(own.From) {
				from = to
			}
		}
	}
	return from
}

func (w *sheetWriter) load(s sameSort, n int, l mouldLoad) {
	quota := *l.quota
	quota.Loads = []models.IceLoad{l.IceLoad}
	task := func(kind string, at time.Time) models.Task {
		q := quota
		return models.Task{
			ID: taskID(w.req.Site.Code, s.date, s.station, kind, numbered(s.subject, n)),
			At: at, Station: s.station, Kind: kind, State: models.Due, Quota: &q,
		}
	}
	water, use := "treated water", "drink ice"
	if !l.treated {
		water, use = "water", "bath ice, not to be served"
	}
	fill := task(models.TaskIceFill, l.FillAt)
	fill.Say = fmt.Sprintf("Fill %s with %s %s and put it in the freezer.", s.station, sheetGrams(l.G), water)
	fill.Why = fmt.Sprintf("Frozen by %s, %s for %s.", sheetMoment(l.TakeAt, l.FillAt, w.loc), use, w.partName(l.quota.DayPart))
	take := task(models.TaskIceTake, l.TakeAt)
	take.Say = fmt.Sprintf("Take the load of %s out of %s: %s into the bin.", sheetMoment(l.FillAt, l.TakeAt, w.loc), s.station, sheetGrams(l.G))
	take.Why = fmt.Sprintf("It has had the time to freeze through; %s needs it by %s.", w.partName(l.quota.DayPart), sheetMoment(l.quota.Due, l.TakeAt, w.loc))
	if l.treated {
		fill.Caution, take.Caution = careFreezer, careIceFood
	} else {
		take.Caution = careBathIce
	}
	w.put(s.date, fill)
	w.put(w.page(l.TakeAt), take)
}
