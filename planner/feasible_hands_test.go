package planner

import (
	"time"

	"hotday/models"
)

// peopleAt is the number of people on shift, 1 where the request lists nobody.
func (c *feasibility) peopleAt(t time.Time) float64 {
	if len(c.r.Site.People) == 0 {
		return 1
	}
	n := 0.0
	for back := range 2 {
		d := models.DateOf(t, c.loc).AddDays(-back)
		dated := false
		for _, p := range c.r.Site.People {
			dated = dated || p.Date != nil && *p.Date == d
		}
		for _, p := range c.r.Site.People {
			mine := p.Date == nil && !dated && p.Weekday == [...]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}[d.Weekday()]
			if (mine || dated && p.Date != nil && *p.Date == d) && (models.ClockSpan{From: p.From, To: p.To}).On(d, c.loc).Contains(t) {
				n += p.OnShift
			}
		}
	}
	return n
}

// there reports whether somebody is there: may act, and is on shift.
func (c *feasibility) there(t time.Time) bool { return c.mayAct(t) && c.peopleAt(t) > 0 }

// moments of a batch at which somebody does something, by name, but its start.
func (c *feasibility) moments(b *models.BatchTask) map[string]time.Time {
	out := map[string]time.Time{"into the cold store": b.Ready}
	if !b.StrainAt.IsZero() {
		out["strained"] = b.StrainAt
	} else if w := c.brewer(b.Brewer); w != nil {
		out["poured"] = b.Start.Add(minute(w.BusyMin))
	}
	if !b.IceAt.IsZero() {
		out["stirred"] = b.IceAt
	}
	if in, _, ok := c.bath(b); ok {
		out["into the bath"] = in
	}
	return out
}

// bath is when a batch is in an ice bath, for recipes without a rest.
func (c *feasibility) bath(b *models.BatchTask) (from, to time.Time, ok bool) {
	bev, w := c.beverage(b.Beverage), c.brewer(b.Brewer)
	if b.BathIceG <= 0 || bev.RestTempC != nil || w == nil {
		return from, to, false
	}
	if !b.StrainAt.IsZero() {
		return b.StrainAt, b.Ready, true
	}
	from = b.Start.Add(minute(w.BusyMin))
	if b.CoolingMin == nil || bev.CoolingUAWPerK == nil {
		return from, b.Ready, true
	}
	return from, from.Add(minute(*b.CoolingMin)), true
}

// presence: no step of a planned batch falls when nobody is there, or when no task may begin.
func (c *feasibility) presence() {
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		if b.State != models.Due {
			continue
		}
		for name, t := range c.moments(b) {
			c.need(c.there(t), "%s is %s at %s when nobody is there", b.ID, name, t)
			for _, a := range c.r.Attention {
				c.need(a.Starts > 0 || t.Before(a.From) || !t.Before(a.To), "%s is %s at %s when no task may begin", b.ID, name, t)
			}
		}
	}
}

// minutes: the work of batches fits the free time, by half hour, or by hour where slots do not divide that.
func (c *feasibility) minutes() {
	if len(c.r.Site.People) == 0 {
		c.need(len(c.p.Hands) == 0, "hands without people")
		return
	}
	w := c.r.Site.Work()
	used, kept := map[int64]float64{}, map[int64]bool{}
	add := func(b *models.BatchTask, at time.Time, takes, work float64) {
		for m := 0.0; m < takes; m += 0.25 {
			t := at.Add(minute(m))
			key := c.halfHourOf(t).Unix()
			used[key] += work * min(0.25, takes-m) / takes
			kept[key] = kept[key] || b.State != models.Due && work > 0
		}
	}
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		bev, br := c.beverage(b.Beverage), c.brewer(b.Brewer)
		switch {
		case br != nil && br.ByHand && bev.Method != models.Steeped:
			add(b, b.Start, br.BusyMin, br.BusyMin)
		default:
			add(b, b.Start, w.Brew, w.Brew)
		}
		m := w.Chill(bev.Bath, b.IceG > 0)
		cold := b.Start.Add(minute(m))
		if br != nil {
			cold = cold.Add(minute(br.BusyMin))
		}
		in, _, bath := c.bath(b)
		switch {
		case bath && !b.StrainAt.IsZero():
			add(b, b.StrainAt.Add(minute(w.StrainTakes)), m, m)
		case bath:
			add(b, in, m, m)
		case bev.Method != models.Steeped && br != nil:
			add(b, b.Start.Add(minute(br.BusyMin)), m, m)
		}
		if !b.StrainAt.IsZero() {
			add(b, b.StrainAt, w.StrainTakes, w.Strain)
			cold = b.StrainAt.Add(minute(w.StrainTakes))
			if bath || b.CoolToBeforeIceC != nil {
				cold = cold.Add(minute(m))
			}
		}
		add(b, models.Later(b.Ready, cold), w.Store, w.Store)
	}
	cell := 30 * time.Minute
	if c.p.Summary.SlotMin == 60 || c.p.Summary.SlotMin == 20 {
		cell = time.Hour
	}
	type sum struct {
		used, free float64
		kept       bool
	}
	cells := map[int64]*sum{}
	free := map[int64]models.HalfHour{}
	for _, h := range c.p.Hands {
		free[h.At.Unix()] = h
		c.need(h.UsedMin >= -1e-9 && h.FreeMin >= -1e-9 && h.FreeMin <= h.OnShift*30+1e-6, "hands %+v", h)
		c.need(h.FreeMin >= h.OnShift*30-h.ServingMin-1e-6, "%s: %g min free of %g people and %g min of serving", h.At, h.FreeMin, h.OnShift, h.ServingMin)
		most := 0.0
		for m := 0; m < 30; m++ {
			most += c.peopleAt(h.At.Add(minute(float64(m)))) / 30
		}
		c.need(h.OnShift <= most+1e-6, "%s: %g on shift, %g listed", h.At, h.OnShift, most)
	}
	for key, m := range used {
		at := time.Unix(key, 0).In(c.loc)
		if at.Add(30 * time.Minute).Before(c.r.Now.Add(time.Hour)) {
			continue // work begun before the first slot
		}
		in := at
		if cell == time.Hour {
			in = at.Add(-time.Duration(at.Minute()) * time.Minute)
		}
		s := cells[in.Unix()]
		if s == nil {
			s = &sum{}
			cells[in.Unix()] = s
			for t := in; t.Before(in.Add(cell)); t = t.Add(30 * time.Minute) {
				s.free += free[t.Unix()].FreeMin
			}
		}
		s.used += m
		s.kept = s.kept || kept[key]
	}
	for unix, s := range cells {
		c.need(s.used <= s.free+0.3 || s.kept, "%s: %g min of work, %g free", time.Unix(unix, 0).In(c.loc), s.used, s.free)
	}
}

// halfHourOf is the half hour of local time that contains an instant.
func (c *feasibility) halfHourOf(t time.Time) time.Time {
	t = t.In(c.loc)
	return t.Add(-time.Duration(t.Minute()%30)*time.Minute - time.Duration(t.Second())*time.Second - time.Duration(t.Nanosecond()))
}

// bathVessels: no planned batch goes into a bath when all are in use.
func (c *feasibility) bathVessels() {
	if c.r.Site.Baths == nil {
		return
	}
	for i := range c.p.Batches {
		at, _, ok := c.bath(&c.p.Batches[i])
		if !ok || c.p.Batches[i].State != models.Due {
			continue
		}
		n := 0
		for k := range c.p.Batches {
			if from, to, ok := c.bath(&c.p.Batches[k]); ok && !from.After(at) && at.Before(to) && c.p.Batches[k].State != models.Made {
				n++
			}
		}
		c.need(n <= *c.r.Site.Baths, "%s goes into a bath at %s as number %d of %d", c.p.Batches[i].ID, at, n, *c.r.Site.Baths)
	}
}
