package audit

import (
	"sort"
	"time"

	"hotday/models"
)

var iceRules = []Rule{
	{"ice.balance", "Opening + made = stirred in + served + for baths + melted + left, and the parts agree with the batches.", iceBalance},
	{"ice.batches", "There is ice in the bin for every batch that takes some.", iceForBatches},
	{"ice.curve", "The ice bin never holds less than nothing or more than it can.", iceCurve},
	{"ice.check", "A look into the ice bin asks for a level that fits in it and that the plan expects.", iceChecks},
	{"ice.quota", "No quota is more than the machine makes in its span.", iceQuotas},
	{"ice.wells", "Ice wells are refilled with what they hold at most, where the site names one.", iceWells},
}

func iceBalance(p *Papers, report report) {
	x := &p.plan.Ice
	if in, out := x.OpeningG+x.MadeG, x.StirredInG+x.ServedG+x.BathFromDrinksG+x.MeltedG+x.LeftG; !near(in, out, 1, 1e-6) {
		report("plan", "%.0f g in, %.0f g out", in, out)
	}
	if most := min(p.request.Ice.OpeningG, p.request.Ice.BinG); x.OpeningG > most+1 {
		report("plan", "opens with %.0f g of %.0f g", x.OpeningG, most)
	}
	var due, under, bath float64
	end := p.request.Site.DayEnd(p.request.From.AddDays(p.request.Days - 1))
	for i := range p.plan.Batches {
		b := &p.plan.Batches[i]
		switch {
		case b.State == models.Started:
			under += b.IceG
			bath += b.BathIceG
		case b.State == models.Due && b.IceG > 0 && b.IceAt.Before(end):
			due += b.IceG
		}
		if b.State == models.Due {
			bath += b.BathIceG
		}
	}
	if x.StirredInG > due+under+1 || x.StirredInG < due-under-1 {
		report("plan", "%.0f g stirred in, batches take %.0f g", x.StirredInG, due)
	}
	if x.BathG > bath+1 {
		report("plan", "%.0f g of bath ice, batches take %.0f g", x.BathG, bath)
	}
}

// iceEvent is ice for drinks that comes into the bin or leaves it, g.
type iceEvent struct {
	at time.Time
	g  float64
	of string
}

// iceForBatches runs the bin with the most that machines can make and with nothing served, so a batch that lacks ice lacks it surely.
func iceForBatches(p *Papers, report report) {
	var events []iceEvent
	for _, b := range p.due() {
		if b.IceG > 0 {
			events = append(events, iceEvent{b.IceAt, -b.IceG, b.ID})
		}
		if s, ok := p.bathSpan(b); ok && b.BathFromDrinksG > 0 {
			events = append(events, iceEvent{s.From, -b.BathFromDrinksG, b.ID})
		}
	}
	for i := range p.plan.Ice.Quotas {
		q := &p.plan.Ice.Quotas[i]
		if m := p.mould(q.Maker); m != nil && m.Treated {
			for _, l := range q.Loads {
				events = append(events, iceEvent{l.TakeAt, l.G, q.Maker})
			}
		}
	}
	sort.SliceStable(events, func(i, k int) bool {
		if !events[i].at.Equal(events[k].at) {
			return events[i].at.Before(events[k].at)
		}
		return events[i].g > events[k].g
	})
	level, at := min(p.request.Ice.OpeningG, p.request.Ice.BinG), p.plan.ComputedAt
	for _, e := range events {
		if e.at.After(at) {
			// What is made while the bin is full goes nowhere, but batches may take ice in the slot that makes it.
			level = min(p.request.Ice.BinG, level) + p.makesWithin(models.Span{From: at, To: e.at}, true)
			at = e.at
		}
		if e.g < 0 {
			level = min(level, p.request.Ice.BinG+p.makesWithin(models.Span{From: at, To: at.Add(models.Minutes(float64(p.request.Site.SlotMin)))}, true))
		}
		slot := p.makesWithin(models.Span{From: at, To: at.Add(models.Minutes(float64(p.request.Site.SlotMin)))}, true)
		if level += e.g; e.g < 0 && level < -1-slot {
			report(e.of, "takes %.0f g of ice at %s, %.0f g more than there can be", -e.g, p.clock(e.at), -level)
			level = 0
		}
	}
}

// makesWithin is the most that the machines for one kind of ice make in a span, g.
func (p *Papers) makesWithin(s models.Span, treated bool) float64 {
	g := 0.0
	for i := range p.request.Ice.Makers {
		if m := &p.request.Ice.Makers[i]; m.Treated == treated {
			g += p.makes(m, s)
		}
	}
	return g
}

// makes is the most that a machine makes in a span, g.
func (p *Papers) makes(m *models.IceMaker, s models.Span) float64 {
	if s.Empty() {
		return 0
	}
	return makesUpTo(m, coolestC(p.request), p.request.Ice.InletWaterC) / 24 * hours(s, p.outages("maker", m.Code))
}

func iceCurve(p *Papers, report report) {
	bin := p.request.Ice.BinG
	for _, l := range p.plan.Ice.Levels {
		if l.G < -1 || l.G > bin+1 || l.P10G > l.P90G+1 {
			report("levels", "%.0f g (%.0f–%.0f g) at %s in a bin of %.0f g", l.G, l.P10G, l.P90G, p.clock(l.At), bin)
			return
		}
	}
}

// levelAt is the ice that the plan's curve shows at an instant, g; ok is false outside the curve.
func (p *Papers) levelAt(t time.Time) (g float64, ok bool) {
	for _, l := range p.plan.Ice.Levels {
		if l.At.After(t) {
			break
		}
		g, ok = l.G, true
	}
	return g, ok
}

func iceChecks(p *Papers, report report) {
	for _, t := range p.tasks {
		if t.Kind != models.TaskIceCheck || t.State != models.Due {
			continue
		}
		q := t.Quota
		if q == nil || q.LevelG <= 0 {
			report(t.ID, "no level to look for")
			continue
		}
		bath := q.BathIce
		bin := p.request.Ice.BinG
		if bath {
			bin = max(q.BinG, p.request.Ice.Plain.BinG, p.request.Ice.Plain.OpeningG)
		} else if q.BinG > 0 && !near(q.BinG, bin, 1, 0) {
			report(t.ID, "bin of %.0f g, the site has one of %.0f g", q.BinG, bin)
		}
		if q.LevelG > bin+1 {
			report(t.ID, "%.0f g in a bin of %.0f g", q.LevelG, bin)
		}
		if q.Quarters < 0 || q.Quarters > 4 {
			report(t.ID, "%d quarters of a bin", q.Quarters)
		}
		if g, ok := p.levelAt(q.Due); ok && !bath {
			if q.LevelG > g+100 {
				report(t.ID, "asks for %.0f g at %s, when the plan expects %.0f g", q.LevelG, p.clock(q.Due), g)
			}
			if q.Quarters > 0 && float64(q.Quarters)*bin/4 > g+0.06*bin+1 && q.Quarters > 1 {
				report(t.ID, "asks for %d quarters at %s, when the plan expects %.0f g of %.0f g", q.Quarters, p.clock(q.Due), g, bin)
			}
		}
		if !q.From.IsZero() && q.From.Before(p.plan.ComputedAt) {
			report(t.ID, "counts from %s, before the plan was made", p.clock(q.From))
		}
	}
}

func iceQuotas(p *Papers, report report) {
	last := map[string]time.Time{}
	for i := range p.plan.Ice.Quotas {
		q := &p.plan.Ice.Quotas[i]
		m := p.maker(q.Maker)
		if m == nil {
			continue
		}
		from := q.From
		if from.IsZero() {
			if from = last[q.Maker]; from.IsZero() {
				from = p.plan.ComputedAt
			}
		}
		last[q.Maker] = q.Due
		if most := p.makes(m, models.Span{From: from, To: q.Due}); q.MakeG > most*1.01+100 {
			report(q.Maker, "%.1f kg by %s from %s, it makes %.1f kg at most", q.MakeG/1000, p.clock(q.Due), p.clock(from), most/1000)
		}
	}
}

func iceWells(p *Papers, report report) {
	holds := map[string]float64{}
	for _, w := range p.request.Site.IceWells {
		holds[w.Code] = w.HoldsG
	}
	filled := map[string]bool{}
	for _, t := range p.tasks {
		if t.Well == nil {
			continue
		}
		filled[t.Well.Well] = true
		if h, ok := holds[t.Well.Well]; !ok || t.Well.G > h+1 {
			report(t.ID, "%.0f g into a well that holds %.0f g", t.Well.G, h)
		}
	}
	for code, g := range holds {
		if !filled[code] && p.plan.Ice.ServedG > max(1000, g) { // it may be full when the plan begins
			report(code, "no task refills it, and %.1f kg of ice are served", p.plan.Ice.ServedG/1000)
		}
	}
}
