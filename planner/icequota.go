package planner

import (
	"math"

	"hotday/models"
)

// needed returns the ice that must be in the bin at the start of each slot so that nothing is short later that is not short anyway, with
// machines making all they can from then on and trays emptied as planned, g; one more than slots. It never exceeds the bin's level.
func (s *iceStream) needed() []float64 {
	makes := s.makeable()
	need := make([]float64, s.slots+1)
	for t := s.slots - 1; t >= 0; t-- {
		x := need[t+1] + s.used(t) - s.run.taken[t]
		need[t] = max(0, x-min(makes[t], max(0, x))) / s.keep
	}
	return need
}

// used is the ice that leaves the bin in a slot, g.
func (s *iceStream) used(t int) float64 {
	return s.reservedUse(t) - s.run.lack[t] + s.serve[t] - s.run.short[t]
}

// requirement returns the ice that machines must make in each slot, as late as possible without causing a shortage, g: at most what they
// make in its air.
func (s *iceStream) requirement() []float64 {
	makes, need := s.makeable(), s.needed()
	out := make([]float64, s.slots)
	level := s.opening
	for t := range s.slots {
		have := level*s.keep + s.run.taken[t]
		out[t] = min(makes[t], max(0, need[t+1]+s.used(t)-have))
		level = min(max(0, have+out[t]-s.used(t)), s.capacity)
	}
	return out
}

// quotas returns the requirement by ice machine and day part, and the loads of each tray set.
func (dr *draft) quotas(s *iceStream, bathIce bool) []models.IceQuota {
	var out []models.IceQuota
	required, makes := s.requirement(), s.makeable()
	for w := range dr.h.windows {
		win := &dr.h.windows[w]
		from, to := win.from, win.to
		if w == len(dr.h.windows)-1 {
			to = dr.h.n
		}
		for _, m := range s.makers {
			q := models.IceQuota{Date: win.date, DayPart: win.part.Code, Maker: m.code, From: dr.h.at(from), Loads: []models.IceLoad{}, BathIce: bathIce}
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
			q.Due = models.Earlier(dr.h.at(last+1), win.span.To).In(dr.loc)
			can := 0.0 // by then
			for t := from; t <= last; t++ {
				can += m.g[t] * min(1, max(0, float64(q.Due.Sub(dr.h.at(t)))/float64(dr.h.slot)))
			}
			if q.MakeG = min(q.MakeG, can); q.MakeG < 0.05 { // a part that ends within its slot
				continue
			}
			out = append(out, q)
		}
		out = append(out, dr.loadQuotas(s, win, from, to, bathIce)...)
	}
	return out
}

func (dr *draft) loadQuotas(s *iceStream, win *window, from, to int, bathIce bool) []models.IceQuota {
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
			out = append(out, models.IceQuota{Date: win.date, DayPart: win.part.Code, Maker: u.code, From: dr.h.at(from), Loads: []models.IceLoad{}, BathIce: bathIce})
		}
		fill := l.fillAt
		if l.fill >= 0 {
			fill = dr.h.at(l.fill)
		}
		take := dr.h.at(l.take)
		n := u.loads
		if l.fill < 0 { // as many as it weighs
			n = max(1, int(math.Round(l.g/(u.loadG/float64(u.loads)))))
		}
		for range n {
			out[k].Loads = append(out[k].Loads, models.IceLoad{FillAt: fill.In(dr.loc), TakeAt: take, G: l.g / float64(n)})
		}
		out[k].MakeG += l.g
		out[k].Due = models.Earlier(take, win.span.To).In(dr.loc)
	}
	return out
}

// iceSums fills in the mass balance over all slots: opening + made = stirred in + served + for baths + melted + left.
func (s *iceStream) iceSums(p *models.IcePlan) {
	p.OpeningG = s.opening
	level := s.opening
	for t := range s.slots {
		p.MadeG += s.run.made[t] + s.run.taken[t]
		p.StirredInG += s.stir[t] - s.run.lack[t]
		p.BathFromDrinksG += s.bath[t]
		p.ServedG += s.serve[t] - s.run.short[t]
		p.MeltedG += s.run.melted[t]
		p.ShortG += s.run.short[t]
		level = s.run.level[t]
	}
	p.LeftG = level
}
