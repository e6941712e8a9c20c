package sheet

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// ice adds the tasks of the ice quotas: filling and emptying for trays, an amount to check for at its due time for a machine.
func (w *sheetWriter) ice() {
	trays := map[string]*models.MouldSet{}
	for i := range w.req.Ice.Moulds {
		trays[w.req.Ice.Moulds[i].Code] = &w.req.Ice.Moulds[i]
	}
	loads := map[taskGroup][]trayLoad{}
	var order []taskGroup
	for i := range w.plan.Ice.Quotas {
		q := &w.plan.Ice.Quotas[i]
		m := trays[q.Maker]
		if m == nil && len(q.Loads) == 0 {
			w.quota(q)
			continue
		}
		for _, l := range q.Loads {
			s := taskGroup{w.dateOf(l.FillAt), q.Maker, models.TaskIceFill, "load"}
			if loads[s] == nil {
				order = append(order, s)
			}
			loads[s] = append(loads[s], trayLoad{l, q, m == nil || m.Treated})
		}
	}
	for _, s := range order {
		g := loads[s]
		slices.SortStableFunc(g, func(a, b trayLoad) int {
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

// trayLoad is one filling of a set of trays with the quota that it counts towards.
type trayLoad struct {
	models.IceLoad
	quota   *models.IceQuota
	treated bool // ice for drinks
}

func (w *sheetWriter) partName(code string) string { return w.Say("sheet.part", "part", code) }

func (w *sheetWriter) quota(q *models.IceQuota) {
	if q.MakeG < 0.5 {
		return
	}
	quota := *q
	t := models.Task{
		ID: taskID(w.req.Site.Code, q.Date, q.Maker, models.TaskIceCheck, q.DayPart),
		At: q.Due, Station: q.Maker, Kind: models.TaskIceCheck, State: models.Due, Quota: &quota,
		Say: w.Say("sheet.quota", "due", w.Clock(q.Due), "maker", q.Maker, "mass", w.GlanceMass(q.MakeG), "since", w.Moment(w.countsFrom(q), q.Due)),
		Why: w.Say("sheet.why_quota", "part", w.partName(q.DayPart)),
	}
	w.caution(&t, models.CautionIceFood)
	w.put(w.dateOf(q.Due), t)
}

// countsFrom is when a quota begins to count: at the end of the previous day part, but not before the plan was made.
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
			if to := w.req.Site.DayPartSpan(d, p).To; to.After(from) && !to.After(own.From) {
				from = to
			}
		}
	}
	return from
}

func (w *sheetWriter) load(s taskGroup, n int, l trayLoad) {
	quota := *l.quota
	quota.Loads = []models.IceLoad{l.IceLoad}
	task := func(kind string, at time.Time) models.Task {
		q := quota
		return models.Task{
			ID: w.idIn(taskGroup{s.date, s.station, kind, s.subject}, n),
			At: at, Station: s.station, Kind: kind, State: models.Due, Quota: &q,
		}
	}
	variant := ""
	if !l.treated {
		variant = "_plain"
	}
	fill := task(models.TaskIceFill, l.FillAt)
	fill.Say = w.Say("sheet.fill"+variant, "mould", s.station, "mass", w.ExactMass(l.G))
	fill.Why = w.Say("sheet.why_fill"+variant, "take", w.Moment(l.TakeAt, l.FillAt), "part", w.partName(l.quota.DayPart))
	take := task(models.TaskIceTake, l.TakeAt)
	take.Say = w.Say("sheet.take", "filled", w.Moment(l.FillAt, l.TakeAt), "mould", s.station, "mass", w.ExactMass(l.G))
	take.Why = w.Say("sheet.why_take", "part", w.partName(l.quota.DayPart), "due", w.Moment(l.quota.Due, l.TakeAt))
	if l.treated {
		w.caution(&fill, models.CautionFreezer)
		w.caution(&take, models.CautionIceFood)
	} else {
		w.caution(&take, models.CautionBathIce)
	}
	w.put(s.date, fill)
	w.put(w.dateOf(l.TakeAt), take)
}
