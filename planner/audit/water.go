package audit

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"hotday/models"
)

var waterRules = []Rule{
	{"water.before_use", "Brewing water is filled before the batches and trays that use it, from now on.", waterBeforeUse},
	{"water.in_tank", "No fill takes more than the tank then holds.", fillsWithinTank},
	{"water.tank_sums", "The tank's balance closes, and its level stays between empty and full.", tankSums},
	{"water.containers", "Every container of a fill but the last is full, and the last holds whole litres, unless it empties the tank.", wholeContainers},
	{"water.recipe", "A fill states RO water, tap water and mL of concentrate, and gives the target water.", fillRecipes},
	{"water.mixing", "Concentrates are mixed before they are used, in amounts that can be weighed and stay dissolved.", mixing},
	{"water.idle", "Nobody fills water that nothing uses.", idleFills},
	{"water.sums", "The water of fills is the water that batches use.", waterSums},
}

func (f *fill) name(p *Papers) string { return "fill of " + p.clock(f.At) }

// waterUse is brewing water used at an instant, L.
type waterUse struct {
	at time.Time
	l  float64
	of string
}

// iceWaterL is the water for a mass of ice, L.
func iceWaterL(r *models.PlanRequest, g float64) float64 {
	return g / 1000 / (1 - r.Water.IceMakingLossPct/100)
}

// uses lists what takes brewing water out of containers: due batches, and trays of treated water filled from now on.
func (p *Papers) uses() []waterUse {
	var out []waterUse
	for _, b := range p.due() {
		out = append(out, waterUse{b.Start, b.BrewWaterG / 1000, b.ID})
	}
	if p.warned(models.WarnWaterShort, "") {
		return out // trays and drinks may go without
	}
	for i := range p.plan.Ice.Quotas {
		q := &p.plan.Ice.Quotas[i]
		m := p.mould(q.Maker)
		if m == nil || !m.Treated {
			continue
		}
		for _, l := range q.Loads {
			if !l.FillAt.Before(p.plan.ComputedAt) && !p.underWay(q.Maker, l.FillAt) {
				out = append(out, waterUse{l.FillAt, iceWaterL(p.request, l.G), q.Maker})
			}
		}
	}
	return out
}

// underWay reports whether trays were filled at an instant before the plan was made.
func (p *Papers) underWay(mould string, at time.Time) bool {
	return slices.ContainsFunc(p.request.UnderWay, func(u models.UnderWay) bool { return u.Mould != nil && *u.Mould == mould && u.Start.Equal(at) })
}

// inContainers bounds the brewing water that fills under way or made left in containers, L.
func (p *Papers) inContainers() float64 {
	l := 0.0
	for _, u := range p.request.UnderWay {
		if u.Kind == models.TaskWaterDraw && u.L != nil {
			l += *u.L
		}
	}
	return l
}

// waterBeforeUse counts fills by when their tasks end, or begin where sheets do not say.
func waterBeforeUse(p *Papers, report report) {
	uses := p.uses()
	if len(uses) == 0 {
		return
	}
	type filled struct {
		at time.Time
		l  float64
	}
	var fills []filled
	for _, t := range p.tasks {
		if t.Kind == models.TaskWaterDraw && t.Draw != nil && t.State == models.Due {
			at := t.Until
			if at.IsZero() {
				at = t.At
			}
			if t.At.Before(p.plan.ComputedAt) {
				report(t.ID, "to be filled at %s, before the plan was made", p.clock(t.At))
			}
			fills = append(fills, filled{at, t.Draw.DrawL})
		}
	}
	sort.SliceStable(uses, func(i, k int) bool { return uses[i].at.Before(uses[k].at) })
	used := 0.0
	for _, u := range uses {
		used += u.l
		have := p.inContainers()
		for _, f := range fills {
			if !f.at.After(u.at) {
				have += f.l
			}
		}
		if have < used*0.995-0.05 {
			report(u.of, "%.1f L of brewing water used by %s, %.1f L filled", used, p.clock(u.at), have)
			return // every later use would be short too
		}
	}
}

// tankAt bounds the tank's content at the beginning of each fill from above: full treatment outside outages, nothing taken by ice
// machines.
func (p *Papers) tankBefore(fills []*fill) []float64 {
	w := &p.request.Water
	out := p.outages("tank", "")
	var rinse []time.Time
	for _, b := range p.due() {
		rinse = append(rinse, b.Start)
	}
	slices.SortFunc(rinse, time.Time.Compare)
	level, at := min(w.OpeningL, w.TankL), p.plan.ComputedAt
	refill := func(to time.Time) {
		if to.After(at) {
			level = min(w.TankL, level+w.MakeLPerH*hours(models.Span{From: at, To: to}, out))
			at = to
		}
	}
	before := make([]float64, len(fills))
	for i, f := range fills {
		for len(rinse) > 0 && rinse[0].Before(f.At) {
			refill(rinse[0])
			level = max(0, level-w.RinseLPerBatch)
			rinse = rinse[1:]
		}
		refill(f.At)
		before[i] = level
		level = max(0, level-f.fromTankL())
	}
	return before
}

func (p *Papers) fillsInOrder() []*fill {
	var out []*fill
	for i := range p.plan.Water {
		out = append(out, &p.plan.Water[i])
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].At.Before(out[k].At) })
	return out
}

func fillsWithinTank(p *Papers, report report) {
	fills := p.fillsInOrder()
	for _, f := range fills {
		if f.At.IsZero() {
			report(string(f.Date)+" "+f.DayPart, "the plan does not say when its %.1f L are filled", f.DrawL)
			return
		}
	}
	w := &p.request.Water
	stock := p.tankBefore(fills)
	for i, f := range fills {
		// Water goes on being treated while containers are filled one after the other.
		meanwhile := w.MakeLPerH * p.work().Fill / 60 * max(1, math.Ceil(f.DrawL/max(1, w.ContainerL)))
		if f.fromTankL() > stock[i]+meanwhile+0.05 {
			report(f.name(p), "%.1f L from a tank that holds %.1f L at most", f.fromTankL(), stock[i])
		}
	}
}

func tankSums(p *Papers, report report) {
	k := p.plan.Tank
	if k == nil {
		if p.request.Water.TankL > 0 && len(p.plan.Water) > 0 {
			report("tank", "not stated")
		}
		return
	}
	if !near(k.OpeningL+k.MadeL+k.ShortL, k.DrawnL+k.IceL+k.RinseL+k.LeftL, 0.05, 1e-4) {
		report("tank", "%.2f + %.2f made + %.2f short is not %.2f drawn + %.2f for ice + %.2f to rinse + %.2f left", k.OpeningL, k.MadeL, k.ShortL, k.DrawnL, k.IceL, k.RinseL, k.LeftL)
	}
	for _, l := range k.Levels {
		if l.L < -0.01 || l.L > p.request.Water.TankL+0.01 {
			report("tank", "%.1f L at %s in a tank of %.0f L", l.L, p.clock(l.At), p.request.Water.TankL)
		}
	}
	drawn := 0.0
	for i := range p.plan.Water {
		drawn += p.plan.Water[i].fromTankL()
	}
	if !near(drawn, k.DrawnL, 0.1, 0.002) {
		report("tank", "fills take %.1f L, the tank gives %.1f L", drawn, k.DrawnL)
	}
	plumbed := 0.0 // what quotas ask of machines that take their own water
	for i := range p.plan.Ice.Quotas {
		q := &p.plan.Ice.Quotas[i]
		if m := p.maker(q.Maker); m != nil && m.Plumbed && m.Treated {
			plumbed += iceWaterL(p.request, q.MakeG)
		}
	}
	if k.IceL < plumbed-0.1-0.005*plumbed {
		report("tank", "machines must make ice of %.1f L, and %.1f L are counted for it", plumbed, k.IceL)
	}
}

func wholeContainers(p *Papers, report report) {
	size := p.request.Water.ContainerL
	for _, f := range p.fillsInOrder() {
		last := f.DrawL
		if size > 0 {
			last -= math.Floor(f.DrawL/size+1e-6) * size
		}
		emptied := f.TankAfterL < 1 && f.DrawL >= 1 && math.Abs(last*10-math.Round(last*10)) < 1e-6 // it has no whole litre more
		if math.Abs(last-math.Round(last)) > 1e-6 && !emptied {
			report(f.name(p), "the last container of %.2f L gets %.2f L", f.DrawL, last)
		}
	}
}

// dosedMg is what the target may differ by, mg/L as CaCO3, since mL and grams are rounded.
func dosedWithin(target float64) float64 { return 4 + 0.08*target }

func fillRecipes(p *Papers, report report) {
	w := &p.request.Water
	blends, doses := p.needsTreatment()
	for _, f := range p.fillsInOrder() {
		if f.ROL == nil || f.TapL == nil {
			if blends || doses {
				report(f.name(p), "RO and tap water are not stated")
			}
			continue
		}
		if !near(*f.ROL+*f.TapL, f.DrawL, 0.02, 0) || *f.ROL < 0 || *f.TapL < 0 {
			report(f.name(p), "%.2f L RO + %.2f L tap is not %.2f L", *f.ROL, *f.TapL, f.DrawL)
		}
		if len(f.Concentrates) == 0 && len(f.Dose) > 0 {
			report(f.name(p), "salts in grams and no concentrate")
			continue
		}
		if f.DrawL <= 0 || w.TankL <= 0 || !p.reachable() {
			continue
		}
		tap := *f.TapL / f.DrawL
		if !blends {
			tap = 1 // the tank holds the source itself
		}
		hard, alk := tap*hardnessOf(w.Source), tap*alkalinityOf(w.Source)
		known := true
		for _, c := range f.Concentrates {
			m := p.mixFor(c.Code, f.At)
			if m == nil || m.MakesML <= 0 {
				known = false // mixed before the plan was made
				continue
			}
			for _, s := range m.Salts {
				mg := s.G * 1000 / m.MakesML * c.ML / f.DrawL
				hard += mg * saltCaCO3[s.Salt].hardness
				alk += mg * saltCaCO3[s.Salt].alkalinity
			}
		}
		if !known {
			continue
		}
		if t := w.Target.HardnessMgLCaCO3; math.Abs(hard-t) > dosedWithin(t) {
			report(f.name(p), "hardness %.0f mg/L, target %.0f", hard, t)
		}
		if t := w.Target.AlkalinityMgLCaCO3; math.Abs(alk-t) > dosedWithin(t) {
			report(f.name(p), "alkalinity %.0f mg/L, target %.0f", alk, t)
		}
	}
}

// needsTreatment reports whether the source must be diluted for the target, and whether salts are at hand for what it lacks.
func (p *Papers) needsTreatment() (blends, doses bool) {
	w := &p.request.Water
	blends = hardnessOf(w.Source) > w.Target.HardnessMgLCaCO3*1.05 || alkalinityOf(w.Source) > w.Target.AlkalinityMgLCaCO3*1.05
	return blends, len(w.Salts) > 0 && (w.Target.HardnessMgLCaCO3 > 0 || w.Target.AlkalinityMgLCaCO3 > 0)
}

// reachable reports whether the salts at hand surely reach the target: there is one for calcium, magnesium and alkalinity each, where the
// target has any.
func (p *Papers) reachable() bool {
	w := &p.request.Water
	has := func(names ...string) bool {
		return slices.ContainsFunc(w.Salts, func(s string) bool { return slices.Contains(names, s) })
	}
	t := w.Target
	return (t.HardnessMgLCaCO3*(1-t.MgShare) <= 0 || has("CaCl2.2H2O")) && (t.HardnessMgLCaCO3*t.MgShare <= 0 || has("MgSO4.7H2O", "MgCl2.6H2O")) &&
		(t.AlkalinityMgLCaCO3 <= 0 || has("NaHCO3", "KHCO3"))
}

// mixFor is the bottle of a concentrate that a fill at an instant is dosed from: the last one mixed by then.
func (p *Papers) mixFor(code string, at time.Time) *mix {
	var last *mix
	for i := range p.plan.Mixes {
		if m := &p.plan.Mixes[i]; m.Code == code && !m.At.After(at) && (last == nil || m.At.After(last.At)) {
			last = m
		}
	}
	return last
}

// dissolvesG is the most of a salt that stays dissolved in a litre of a cold bottle, g of the hydrate; CRC Handbook, from memory.
var dissolvesG = map[string]float64{"CaCl2.2H2O": 490, "MgSO4.7H2O": 370, "MgCl2.6H2O": 720, "NaHCO3": 65, "KHCO3": 186}

// leastWeighedG is the least salt that anybody weighs, g.
const leastWeighedG = 0.5

func mixing(p *Papers, report report) {
	underWay := map[string]bool{}
	for _, u := range p.request.UnderWay {
		if u.Kind == models.TaskMix && u.Lot != nil {
			underWay[*u.Lot] = true
		}
	}
	usedML := map[*mix]float64{}
	for _, f := range p.fillsInOrder() {
		for _, c := range f.Concentrates {
			m := p.mixFor(c.Code, f.At)
			switch {
			case m == nil && !underWay[c.Code]:
				report(f.name(p), "%.1f mL of %s, which is not mixed by then", c.ML, c.Code)
			case m != nil:
				usedML[m] += c.ML
				if !m.GoodTo.IsZero() && f.At.After(m.GoodTo) {
					report(f.name(p), "%s is good to %s", c.Code, p.clock(m.GoodTo))
				}
			}
		}
	}
	for i := range p.plan.Mixes {
		m := &p.plan.Mixes[i]
		name := fmt.Sprintf("mix %s of %s", m.Code, p.clock(m.At))
		if usedML[m] > m.MakesML+0.5 {
			report(name, "%.0f mL used of %.0f mL", usedML[m], m.MakesML)
		}
		if m.WaterML <= 0 || m.WaterML > m.MakesML {
			report(name, "dissolved in %.0f mL to make %.0f mL", m.WaterML, m.MakesML)
		}
		full, calcium, other := 0.0, false, false
		for _, s := range m.Salts {
			if s.G < leastWeighedG || math.Abs(s.G*10-math.Round(s.G*10)) > 1e-6 {
				report(name, "%.2f g of %s to weigh", s.G, s.Salt)
			}
			full += s.G * 1000 / m.MakesML / dissolvesG[s.Salt]
			calcium = calcium || saltCaCO3[s.Salt].calcium > 0
			other = other || s.Salt == "MgSO4.7H2O" || saltCaCO3[s.Salt].alkalinity > 0
		}
		if full > 1 {
			report(name, "%.0f %% of what dissolves", 100*full)
		}
		if calcium && other {
			report(name, "calcium in one bottle with sulphate or hydrogen carbonate")
		}
	}
}

func idleFills(p *Papers, report report) {
	for _, f := range p.fillsInOrder() {
		if f.BrewL+f.IceL+f.RinseL+f.DrinkL < 1e-6 && f.DrawL > 0 {
			report(f.name(p), "%.1f L that nothing uses", f.DrawL)
		}
		d := f.Date
		if !f.At.IsZero() {
			d = p.request.Site.ServiceDayOf(f.At.Add(-models.Minutes(p.request.Site.SetupMin))) // closing up belongs to the day before
			if p.there(f.At, f.At) && d < p.request.Site.ServiceDayOf(f.At) {
				continue
			}
			d = p.request.Site.ServiceDayOf(f.At)
		}
		used := slices.ContainsFunc(openHours(p.request, dates(p.request)), func(s models.Span) bool { return p.request.Site.ServiceDayOf(s.From) == d }) ||
			slices.ContainsFunc(p.plan.Batches, func(b batch) bool { return b.Date == d })
		if d != "" && !used {
			report(f.name(p), "%s is closed", d)
		}
	}
}

func waterSums(p *Papers, report report) {
	if len(p.plan.Water) == 0 {
		return
	}
	used, filled, straight := 0.0, 0.0, 0.0
	for _, b := range p.due() {
		used += b.BrewWaterG / 1000
	}
	for i := range p.plan.Water {
		f := &p.plan.Water[i]
		filled += f.BrewL
		straight += f.fromTankL()
		if parts := f.BrewL + f.IceL + f.RinseL + f.DrinkL; parts > f.DrawL+0.05 {
			report(f.name(p), "%.2f L used of %.2f L", parts, f.DrawL)
		}
	}
	if carried := p.inContainers(); filled > used+0.05 || filled < used-carried-0.05 {
		report("plan", "fills state %.2f L for batches, batches take %.2f L", filled, used)
	}
	if k := p.plan.Tank; k != nil && !near(p.plan.Summary.TreatedWaterL, straight+k.IceL+k.RinseL, 0.1, 0.002) {
		report("plan", "summary says %.1f L of treated water; fills, ice machines and rinsing take %.1f L", p.plan.Summary.TreatedWaterL, straight+k.IceL+k.RinseL)
	}
}
