package facts

import (
	"cmp"
	"context"
	"slices"
	"time"

	"hotday/models"
)

const (
	markLate   = 45 * time.Minute // after which a task without a mark counts as not done
	staleAfter = 24 * time.Hour   // of plans and weather
	stateAgain = time.Hour        // at most, until a state is computed again
	stateSoon  = 5 * time.Minute  // at least, unless something changes
)

// SiteState computes how a site stands for its next service day, and what lists across shops need of it. due returns when the sheet of a
// service day is due; again is when the state is to be computed next if nothing happens until then.
func SiteState(ctx context.Context, st models.Store, code string, now time.Time, due func(models.Site, models.Date) time.Time) (r models.SiteRecord, again time.Time, err error) {
	err = st.Read(ctx, func(st models.Store) error {
		w := stateWriter{ctx: ctx, st: st, now: now, again: now.Add(stateAgain)}
		if w.setup, _, err = st.Setup(ctx, code); err != nil {
			return err
		}
		for _, step := range []func() error{w.days, w.plan, w.sheets, w.warning, w.fresh} {
			if err := step(); err != nil {
				return err
			}
		}
		if w.s.NextDay != "" && w.s.Published == nil {
			at := due(w.setup.Site, w.s.NextDay)
			w.s.PublishDue = &at
			if w.late(at, publishGrace) {
				w.add(models.TroubleNotPublished, &at, 0)
			}
		}
		w.s.SetTroubles(w.troubles)
		w.r.State = w.s
		r, again = w.r, models.Later(w.again, now.Add(stateSoon))
		return nil
	})
	return r, again, err
}

// publishGrace is how long after it is due a sheet may still be on its way.
const publishGrace = 15 * time.Minute

type stateWriter struct {
	ctx      context.Context
	st       models.Store
	now      time.Time
	setup    models.Setup
	s        models.SiteState
	r        models.SiteRecord
	troubles []models.Trouble
	again    time.Time
}

func (w *stateWriter) add(kind string, at *time.Time, n int) {
	w.troubles = append(w.troubles, models.Trouble{Kind: kind, At: at, N: n})
}

// late reports whether an instant is over by more than grace; if not, the state is computed again then.
func (w *stateWriter) late(at time.Time, grace time.Duration) bool {
	if at = at.Add(grace); w.now.After(at) {
		return true
	}
	if at.Before(w.again) {
		w.again = at.Add(time.Second)
	}
	return false
}

func (w *stateWriter) days() error {
	site := w.setup.Site
	w.s = models.SiteState{Site: site.Code, Name: cmp.Or(site.Name, site.Code), ComputedAt: w.now, Today: site.ServiceDayOf(w.now), Plan: models.PlanNone,
		Timezone: site.Timezone, Units: site.Shown(), Language: site.Language, Troubles: []models.Trouble{}}
	for n := 0; n <= 14; n++ {
		switch d := w.s.Today.AddDays(n); {
		case len(site.OpenSpans(d)) == 0:
			w.r.Closed = append(w.r.Closed, d)
		case n > 0 && w.s.NextDay == "":
			w.s.NextDay = d
		}
	}
	for _, c := range w.setup.Coffees {
		for _, l := range c.Lots {
			w.r.Lots = append(w.r.Lots, models.SiteLot{Coffee: c.Code, Lot: l.Code})
		}
	}
	return nil
}

func (w *stateWriter) plan() error {
	p, err := w.st.LatestPlanAlone(w.ctx, w.s.Site)
	if models.CodeOf(err) == models.CodeNotFound {
		w.add(models.TroubleNoPlan, nil, 0)
		return nil
	}
	if err != nil {
		return err
	}
	s, last := &w.s, p.From.AddDays(p.Days-1)
	s.Revision, s.PlannedAt, s.Plan = p.Revision, &p.ComputedAt, models.PlanMade
	if old := w.late(p.ComputedAt, staleAfter); old || s.NextDay < p.From || s.NextDay > last {
		s.Plan = models.PlanStale
	}
	for _, d := range p.Expected.Days {
		if d.Date == s.NextDay {
			s.Drinks = new(d.Demanded)
		}
	}
	for _, l := range p.Ice.Levels {
		if !l.At.After(w.now) && w.now.Sub(l.At) < time.Hour {
			s.IceG = new(l.G)
		}
	}
	for _, o := range p.RunOuts() {
		if s.IceOutAt == nil && o.At.After(w.now) {
			s.IceOutAt, s.IceOutChancePct = new(o.At), o.ChancePct
		}
	}
	w.r.Needs, w.r.Days = needsOf(p, w.setup, s.Today), nil
	for d := max(p.From, s.Today); d <= last; d = d.AddDays(1) {
		w.r.Days = append(w.r.Days, d)
	}
	return nil
}

func (w *stateWriter) sheets() error {
	list, err := w.st.Sheets(w.ctx, w.s.Site, w.s.Today, cmp.Or(w.s.NextDay, w.s.Today).AddDays(1))
	if err != nil {
		return err
	}
	for _, sheet := range list {
		switch sheet.Date {
		case w.s.NextDay:
			w.s.Published = new(sheet.PublishedAt)
		case w.s.Today:
			w.followed(sheet)
		}
	}
	return nil
}

// followed counts the tasks of today's sheet that are due, and those with a mark.
func (w *stateWriter) followed(sheet models.PrepSheet) {
	open, first := 0, time.Time{}
	for _, t := range sheet.Lines() {
		if !t.WantsMark() || t.Kind == models.TaskLook {
			continue
		}
		if t.At.After(w.now) && t.State == models.Due {
			w.late(t.At, markLate)
			continue
		}
		w.s.TasksDue++
		if t.State != models.Due {
			w.s.TasksDone++
		} else if w.late(t.At, markLate) {
			if open++; first.IsZero() || t.At.Before(first) {
				first = t.At
			}
		}
	}
	if open > 0 {
		w.add(models.TroubleNotFollowed, &first, open)
	}
}

func (w *stateWriter) warning() error {
	open, err := w.st.OpenWarnings(w.ctx, w.s.Site)
	if err != nil || len(open) == 0 {
		return err
	}
	grades := []string{models.GradeNote, models.GradeActToday, models.GradeActNow}
	worst := slices.MinFunc(open, func(a, b models.OpenWarning) int {
		return cmp.Or(cmp.Compare(slices.Index(grades, b.Grade), slices.Index(grades, a.Grade)), a.At.Compare(b.At))
	})
	w.s.Warning = &models.StateWarning{Kind: worst.Kind, Grade: worst.Grade, At: worst.At, ChancePct: worst.ChancePct, Cause: worst.Cause, Acked: worst.AckedAt != nil}
	kind := map[string]string{models.GradeActNow: models.TroubleActNow, models.GradeActToday: models.TroubleActToday}[worst.Grade]
	w.add(cmp.Or(kind, models.TroubleNote), new(worst.At), 0)
	return nil
}

// fresh looks at when counts, weather and stock were last reported.
func (w *stateWriter) fresh() error {
	site := w.setup.Site
	last, err := w.st.CountsReceivedAt(w.ctx, site.Code)
	if err != nil {
		return err
	}
	if !last.IsZero() {
		w.s.CountsAt = &last
		for _, d := range []models.Date{w.s.Today.AddDays(-1), w.s.Today} {
			for _, open := range site.OpenSpans(d) {
				if !open.From.Before(last) && open.To.Before(w.now) {
					w.add(models.TroubleNoCounts, &last, 0)
					last = w.now // said once
				}
			}
		}
		last = *w.s.CountsAt
	}
	if w.s.NextDay != "" {
		from, to := w.s.NextDay.At(0, site.Location()), w.s.NextDay.AddDays(1).At(0, site.Location())
		rows, err := w.st.Weather(w.ctx, site.Code, from, to, time.Time{})
		if err != nil {
			return err
		}
		for _, x := range rows {
			if w.s.HighC == nil || x.TempC > *w.s.HighC {
				w.s.HighC = new(x.TempC)
			}
			if w.s.WeatherAt == nil || x.IssuedAt.After(*w.s.WeatherAt) {
				w.s.WeatherAt = new(x.IssuedAt)
			}
		}
		if w.s.WeatherAt == nil || w.late(*w.s.WeatherAt, staleAfter) {
			w.add(models.TroubleNoWeather, w.s.WeatherAt, 0)
		}
	}
	counts, err := w.st.StockCounts(w.ctx, site.Code, w.now.AddDate(0, 0, -14), w.now.Add(time.Second))
	for _, n := range counts {
		if n.IceG != nil {
			w.s.StockAt = new(n.CountedAt)
		}
	}
	return err
}

// needsOf is what a plan uses of beans and supplies, and the ice that it lacks or buys, by day from today on.
func needsOf(p models.Plan, setup models.Setup, today models.Date) []models.SiteNeed {
	type key struct {
		date       models.Date
		kind, name string
	}
	sums := map[key]*models.SiteNeed{}
	at := func(d models.Date, kind, name, unit string) *models.SiteNeed {
		k := key{d, kind, name}
		if sums[k] == nil {
			sums[k] = &models.SiteNeed{Date: d, Kind: kind, Name: name, Unit: unit}
		}
		return sums[k]
	}
	coffee := map[string]string{}
	for _, b := range setup.Beverages {
		coffee[b.Code] = b.Coffee
	}
	for _, b := range p.Batches {
		if b.Date >= today {
			at(b.Date, models.NeedBeans, cmp.Or(coffee[b.Beverage], b.Beverage), "g").Amount += b.DoseG
		}
	}
	for _, x := range p.Supplies {
		if x.Date >= today {
			n := at(x.Date, models.NeedSupply, x.Name, x.Unit)
			n.Amount, n.Short, n.OrderBy = n.Amount+x.Amount, n.Short+x.Short, cmp.Or(n.OrderBy, x.OrderBy)
		}
	}
	site := setup.Site
	for _, w := range p.Warnings {
		d := site.ServiceDayOf(w.At)
		switch {
		case d < today:
		case w.Kind == models.WarnIceShort && !w.OfBathIce() && w.ChancePct > 0:
			n := at(d, models.NeedIce, "", "g")
			n.Amount, n.Short = n.Amount+1000*w.Amount, n.Short+1000*w.Amount
		case w.Kind == models.WarnBeansShort && w.Unit == "g":
			at(d, models.NeedBeans, w.Subject, "g").Short += w.Amount
		}
	}
	if p.Expected.IceBoughtG > 0 {
		at(max(p.From, today), models.NeedIce, "", "g").Amount += p.Expected.IceBoughtG
	}
	out := make([]models.SiteNeed, 0, len(sums))
	for _, n := range sums {
		out = append(out, *n)
	}
	slices.SortFunc(out, func(a, b models.SiteNeed) int {
		return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name))
	})
	return out
}
