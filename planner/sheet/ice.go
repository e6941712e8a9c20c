package sheet

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
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

func (w *sheetWriter) partName(code string) string { return w.Say("sheet.part", "part", code) }

func (w *sheetWriter) quota(q *models.IceQuota) {
	if q.MakeG < 0.5 {
		return
	}
	quota := *q
	w.put(w.page(q.Due), models.Task{
		ID: taskID(w.req.Site.Code, q.Date, q.Maker, models.TaskIceCheck, q.DayPart),
		At: q.Due, Station: q.Maker, Kind: models.TaskIceCheck, State: models.Due, Quota: &quota,
		Say:     w.Say("sheet.quota", "due", w.Clock(q.Due), "maker", q.Maker, "mass", w.SheetMass(q.MakeG), "since", w.Moment(w.countsFrom(q), q.Due)),
		Why:     w.Say("sheet.why_quota", "part", w.partName(q.DayPart)),
		Caution: w.Caution(say.CautionIceFood),
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
	kind := ""
	if !l.treated {
		kind = "_plain"
	}
	fill := task(models.TaskIceFill, l.FillAt)
	fill.Say = w.Say("sheet.fill"+kind, "mould", s.station, "mass", w.WeighedGrams(l.G))
	fill.Why = w.Say("sheet.why_fill"+kind, "take", w.Moment(l.TakeAt, l.FillAt), "part", w.partName(l.quota.DayPart))
	take := task(models.TaskIceTake, l.TakeAt)
	take.Say = w.Say("sheet.take", "filled", w.Moment(l.FillAt, l.TakeAt), "mould", s.station, "mass", w.WeighedGrams(l.G))
	take.Why = w.Say("sheet.why_take", "part", w.partName(l.quota.DayPart), "due", w.Moment(l.quota.Due, l.TakeAt))
	if l.treated {
		fill.Caution, take.Caution = w.Caution(say.CautionFreezer), w.Caution(say.CautionIceFood)
	} else {
		take.Caution = w.Caution(say.CautionBathIce)
	}
	w.put(s.date, fill)
	w.put(w.page(l.TakeAt), take)
}
