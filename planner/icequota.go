package planner

import (
	"time"

	"hotday/models"
)

// withBathIce returns the stream of ice-bath ice with the baths' demand by slot and the tray loads it needs.
func withBathIce(bp *brewPlan, plain *iceStream) *iceStream {
	s := new(*plain)
	s.stir = make([]float64, bp.h.n)
	wet := s.wetShare(bp.req)
	add := func(rc *recipe, doseG float64, start time.Time, t times, busyMin float64) {
		g := rc.weighing.BathIce(rc.bathIceG(doseG, &bp.req.Ice, wet))
		// The bath starts when the brew leaves the brewer.
		at := start.Add(models.Minutes(min(busyMin, t.ice)))
		if rc.bev.Method == models.Steeped {
			at = start.Add(models.Minutes(t.strain))
		}
		if i := bp.h.slotOf(at); g > 0 && i >= 0 && i < bp.h.n {
			s.stir[i] += g
		}
	}
	for i := range bp.batches {
		p := &bp.batches[i]
		o := &bp.options[p.option]
		add(bp.recipes[o.bev], p.doseG, bp.h.at(p.slot), p.t, bp.req.Brewers[o.brewer].BusyMin)
	}
	for i := range bp.kept {
		if b := &bp.kept[i]; b.task.State == models.Started {
			add(bp.recipes[b.bev], b.doseG, b.task.Start, b.t, b.busyMin)
		}
	}
	s.choose()
	return s
}

// requirement returns the ice that machines must make in each slot, as late as possible without causing a shortage, g.
func (s *iceStream) requirement() []float64 {
	n := s.slots
	makes := s.makeable()
	need := make([]float64, n+1) // need[t]: required at the end of slot t−1
	used := make([]float64, n)
	for t := n - 1; t >= 0; t-- {
		used[t] = s.stir[t] - s.run.lack[t] + s.serve[t] - s.run.short[t]
		x := need[t+1] + used[t] - s.run.taken[t]
		need[t] = max(0, x-min(makes[t], max(0, x))) / s.keep
	}
	out := make([]float64, n)
	level := s.opening
	for t := range n {
		have := level*s.keep + s.run.taken[t]
		out[t] = min(makes[t], max(0, need[t+1]+used[t]-have))
		level = min(max(0, have+out[t]-used[t]), s.capacity)
	}
	return out
}

// quotas returns the requirement by ice machine and day part, and the loads of each tray set.
func (dr *draft) quotas(s *iceStream) []models.IceQuota {
	var out []models.IceQuota
	required, makes := s.requirement(), s.makeable()
	for w := range dr.h.windows {
		win := &dr.h.windows[w]
		from, to := win.from, win.to
		if w == len(dr.h.windows)-1 {
			to = dr.h.n
		}
		for _, m := range s.makers {
			q := models.IceQuota{Date: win.date, DayPart: win.part.Code, Maker: m.code, Loads: []models.IceLoad{}}
			last := -1
			for t := from; t < to; t++ {
				if required[t] > 1e-9 && m.g[t] > 0 {
					q.MakeG += required[t] * m.g[t] / makes[t]
					last = t
				}
			}
			if last < 0 || q.MakeG < 0.05 {
				continue
			}
			q.Due = earlier(dr.h.at(last+1), win.span.To).In(dr.loc)
			out = append(out, q)
		}
		out = append(out, dr.loadQuotas(s, win, from, to)...)
	}
	return out
}

func (dr *draft) loadQuotas(s *iceStream, win *window, from, to int) []models.IceQuota {
	var out []models.IceQuota
	byMould := map[int]int{}
	for _, l := range s.loads {
		if l.take < from || l.take >= to {
			continue
		}
		u := &s.units[l.unit]
		k, ok := byMould[u.row]
		if !ok {
			k = len(out)
			byMould[u.row] = k
			out = append(out, models.IceQuota{Date: win.date, DayPart: win.part.Code, Maker: u.code, Loads: []models.IceLoad{}})
		}
		fill := l.fillAt
		if l.fill >= 0 {
			fill = dr.h.at(l.fill)
		}
		take := dr.h.at(l.take)
		out[k].Loads = append(out[k].Loads, models.IceLoad{FillAt: fill.In(dr.loc), TakeAt: take, G: l.g})
		out[k].MakeG += l.g
		out[k].Due = earlier(take, win.span.To).In(dr.loc)
	}
	return out
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// iceSums fills in the mass balance over all slots: opening + made = stirred in + served + melted + left.
func (s *iceStream) iceSums(p *models.IcePlan) {
	p.OpeningG = s.opening
	level := s.opening
	for t := range s.slots {
		p.MadeG += s.run.made[t] + s.run.taken[t]
		p.StirredInG += s.stir[t] - s.run.lack[t]
		p.ServedG += s.serve[t] - s.run.short[t]
		p.MeltedG += s.run.melted[t]
		p.ShortG += s.run.short[t]
		level = s.run.level[t]
	}
	p.LeftG = level
}
