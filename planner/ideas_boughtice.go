package planner

import (
	"math"
	"time"

	"hotday/models"
)

// delivery is ice to bring in.
type delivery struct {
	action string
	g      float64
}

// iceToBring words bringing in g g of ice before an instant: as any ice, or where the site buys it in bags, as whole bags with the cut-off
// and their place. purpose is what the bags are for, "" for any ice.
func (st *setting) iceToBring(g float64, before time.Time, anyIce, purpose string) delivery {
	b := st.req.Ice.Bought
	if b == nil {
		return delivery{action: st.q.Say(anyIce, "mass", st.q.GlanceMass(g)), g: g}
	}
	n := max(1, math.Ceil(g/b.BagG-1e-9))
	d := delivery{g: n * b.BagG}
	by := ""
	if at, ok := st.orderIceBy(before); ok {
		by = st.q.Say("ice.buy_by", "at", st.q.At(at))
	}
	kept := ""
	if b.KeptIn != "" {
		kept = st.q.Say("ice.buy_kept", "place", b.KeptIn)
	}
	d.action = st.q.Say("ice.buy", "n", int(n), "bag", st.q.GlanceMass(b.BagG), "for", purpose, "by", by, "kept", kept)
	return d
}

// orderIceBy is the latest cut-off for buying ice that lies before an instant and not before the plan; ok is false where ice can be bought
// at any time, or no cut-off is left.
func (st *setting) orderIceBy(before time.Time) (time.Time, bool) {
	b := st.req.Ice.Bought
	if b.OrderBy == "" {
		return time.Time{}, false
	}
	for d := models.DateOf(before, st.loc); ; d = d.AddDays(-1) {
		at := d.At(b.OrderBy.Minutes(), st.loc)
		if at.Before(st.req.Now) {
			return time.Time{}, false
		}
		if !at.After(before) {
			return at, true
		}
	}
}

// bagsCost is what the bags of ice cost that a changed request has beside the first, minor units.
func bagsCost(was, is *models.PlanRequest) float64 {
	b := was.Ice.Bought
	if b == nil {
		return 0
	}
	bags := 0.0
	if is.Ice.OpeningG > was.Ice.OpeningG || is.Ice.BinG > was.Ice.BinG && is.Ice.OpeningG != was.Ice.OpeningG {
		bags += math.Round((is.Ice.OpeningG - min(was.Ice.OpeningG, was.Ice.BinG)) / b.BagG)
	}
	if p, q := was.Ice.Plain, is.Ice.Plain; q.OpeningG > p.OpeningG {
		held := p.OpeningG
		if p.BinG > 0 {
			held = min(held, p.BinG)
		}
		bags += math.Round((q.OpeningG - held) / b.BagG)
	}
	return bags * b.BagCost
}
