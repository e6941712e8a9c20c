package planner

import (
	"math"

	"hotday/models"
)

// byBorrowing is the reason of a note that ice for drinks goes into baths.
const byBorrowing = "borrowing"

// warnBaths says where ice for baths is missing: what is left out for want of it, which batches under way have none, and what the ice for
// drinks stands in for.
func (dr *draft) warnBaths() (out []warning) {
	fields := []string{"ice.plain", "ice.plain.opening_g"}
	bags := func(g float64) string { return dr.q.GlanceMass(math.Ceil(g/500) * 500) }
	if u := &dr.unbathed; u.batches > 0 {
		at := dr.h.at(min(max(u.first, 0), dr.h.n))
		s := about("plain ice")
		out = append(out, dr.warning(s, models.WarnIceShort, "", at, u.iceG/1000, "kg", 100, fields,
			dr.q.Say("ice.baths_limit", "n", u.batches, "at", dr.when(at), "beverage", u.firstBatch, "mass", dr.q.GlanceMass(u.beverageG), "ice", bags(u.iceG))))
	} else if g, slot := dr.bathsWithout(); g > leastBathLackG {
		out = append(out, dr.warning(about("plain ice"), models.WarnIceShort, "", dr.h.at(slot), g/1000, "kg", 100, fields,
			dr.q.Say("ice.bath_missing", "at", dr.when(dr.h.at(slot)), "ice", bags(g))))
	}
	if g, slot := dr.borrowed(); g > 0 {
		s := about("bath ice from drinks")
		s.reason = byBorrowing
		out = append(out, dr.warning(s, models.WarnIceShort, models.GradeNote, dr.h.at(slot), g/1000, "kg", 0, fields,
			dr.q.Say("ice.baths_borrow", "at", dr.when(dr.h.at(slot)), "ice", dr.q.GlanceMass(g))))
	}
	return out
}

// bathsWithout returns the bath ice that batches under way lack, g, and the first slot of that.
func (dr *draft) bathsWithout() (g float64, first int) {
	for i := range dr.baths {
		if b := &dr.baths[i]; b.missingG > 0 {
			if g == 0 {
				first = b.slot
			}
			g += b.missingG
		}
	}
	return g, first
}
