package planner

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
)

const (
	wellReserve   = 0.1              // of a well that is still in it when it is refilled
	wellStep      = 500.0            // g, to which the ice to carry is rounded up
	wellAtOpening = 30 * time.Minute // before opening, when wells are filled
	withCheck     = 45 * time.Minute // how much earlier a well may be refilled because somebody looks into the ice bin
	wellLowEnough = 0.5              // of a well in use before that is worth a walk
)

// wellFills returns the ice to carry to the wells at the bar. They are filled before opening and again before the serving ice of the
// plan, which is that of a busy day, has emptied them. Several wells share it by their size, and are filled in one walk.
func (dr *draft) wellFills(checks []models.IceQuota) (out []models.WellFill) {
	holds := 0.0
	for _, w := range dr.req.Site.IceWells {
		holds += w.HoldsG
	}
	if holds <= 0 {
		return nil
	}
	days := dr.daysWithSheet()
	for _, o := range dr.h.open {
		if !slices.Contains(days, dr.req.Site.ServiceDayOf(o.From)) {
			continue
		}
		for _, f := range dr.wellWalks(o, holds, checks) {
			for _, w := range dr.req.Site.IceWells {
				g := min(w.HoldsG, math.Ceil(f.G*w.HoldsG/holds/wellStep-1e-9)*wellStep)
				out = append(out, models.WellFill{Well: w.Code, At: f.At, G: g})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b models.WellFill) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Well, b.Well)) })
	return out
}

// wellWalks returns when to fill wells that together hold so much in a span of opening hours, and with how much.
func (dr *draft) wellWalks(open models.Span, holds float64, checks []models.IceQuota) (out []models.WellFill) {
	h, s := dr.h, dr.drink
	from, to := max(0, h.slotFrom(open.From)), min(h.n, h.slotFrom(open.To))
	if from >= to {
		return nil
	}
	use, left, carry := make([]float64, h.n), 0.0, models.Minutes(dr.carryMin())
	for t := from; t < to; t++ {
		use[t] = s.serve[t] - s.run.short[t]
		left += use[t]
	}
	if left < 1 {
		return nil
	}
	level := holds / 2 // in the middle of a day: nobody has said how full they are
	if !h.start.After(open.From) {
		at := max(0, h.slotFrom(open.From.Add(-wellAtOpening)))
		for at < to && !h.peopleFor(h.at(at), carry) {
			at++
		}
		if at == to {
			return nil
		}
		for ; from < at; from++ {
			left -= use[from]
		}
		if left < 1 {
			return nil
		}
		level = min(holds, left)
		out = append(out, models.WellFill{At: h.at(at), G: level})
	}
	for t := from; t < to; t++ {
		if level-use[t] < wellReserve*holds && left > level+1 && h.peopleFor(h.at(t), carry) {
			at, lv, rest := dr.beforeThat(t, from, level, left, use, holds, out, checks)
			if g := min(holds, rest) - lv; g > 1 {
				out = append(out, models.WellFill{At: h.at(at), G: g})
				level += g
			}
		}
		level = max(0, level-use[t])
		left -= use[t]
	}
	return out
}

// carryMin is the longest walk to a well, min.
func (st *setting) carryMin() (m float64) {
	for i := range st.req.Site.IceWells {
		m = max(m, st.req.Site.IceWells[i].CarryMin)
	}
	return m
}

// beforeThat moves a walk to the wells from slot t to a look into the ice bin shortly before, if the wells are low enough then. It
// returns the slot, and what is in the wells and still to be used then, g.
func (dr *draft) beforeThat(t, from int, level, left float64, use []float64, holds float64, walks []models.WellFill, checks []models.IceQuota) (at int, levelG, leftG float64) {
	at, levelG, leftG = t, level, left
	for k := t - 1; k >= from && dr.h.at(t).Sub(dr.h.at(k)) <= withCheck; k-- {
		level, left = level+use[k], left+use[k]
		if len(walks) > 0 && !walks[len(walks)-1].At.Before(dr.h.at(k)) || holds-level < wellLowEnough*holds {
			break
		}
		if slices.ContainsFunc(checks, func(q models.IceQuota) bool { return !q.BathIce && q.Due.Equal(dr.h.at(k)) }) {
			return k, level, left
		}
	}
	return at, levelG, leftG
}
