package audit

import (
	"time"

	"hotday/models"
)

var bathRules = []Rule{
	{"bath.marked", "Ice that only cools is marked as such wherever it appears, and never as ice for drinks.", bathMarked},
	{"bath.amount", "An ice bath has at least as much ice as the coffee it cools, three quarters of it for flash.", bathAmount},
	{"bath.supply", "There is ice for every bath.", bathSupply},
	{"bath.vessels", "No more batches are in ice baths at once than the site has vessels.", bathVessels},
}

// untreated reports whether a station makes ice that is not for drinks; known is false for other stations.
func (p *Papers) untreated(station string) (plain, known bool) {
	if m := p.maker(station); m != nil {
		return !m.Treated, true
	}
	if m := p.mould(station); m != nil {
		return !m.Treated, true
	}
	return false, false
}

func bathMarked(p *Papers, report report) {
	for i := range p.plan.Ice.Quotas {
		q := &p.plan.Ice.Quotas[i]
		if plain, known := p.untreated(q.Maker); known && plain != q.BathIce {
			report("quota of "+q.Maker, "bath_ice is %t", q.BathIce)
		}
	}
	for _, t := range p.tasks {
		if t.Kind != models.TaskIceFill && t.Kind != models.TaskIceTake && t.Kind != models.TaskIceRefill && t.Kind != models.TaskIceCheck || t.State != models.Due {
			continue
		}
		plain, known := p.untreated(t.Station)
		if !known {
			continue
		}
		if has(t.CautionCodes, models.CautionBathIce) != plain {
			report(t.ID, "ice %s of %s: caution codes %v", map[bool]string{true: "not for drinks", false: "for drinks"}[plain], t.Station, t.CautionCodes)
		}
		if plain && has(t.CautionCodes, models.CautionIceFood) {
			report(t.ID, "ice that is not for drinks has the caution of food")
		}
	}
}

// inBath reports whether a batch is cooled in an ice bath, and the liquid that is cooled, g.
func (p *Papers) inBath(b *batch) (massG float64, ok bool) {
	bev := p.beverage(b.Beverage)
	if !bev.Bath || b.CoolToBeforeIceC == nil {
		return 0, false
	}
	from := b.BrewerOutTempC
	if bev.RestTempC != nil && bev.Method != models.Steeped {
		from = min(from, *bev.RestTempC)
	}
	return b.BeverageG - b.IceG, *b.CoolToBeforeIceC < from-0.01
}

// bathShare is the least ice for a gram of coffee in a bath, by method: common practice, no source.
var bathShare = map[string]float64{models.HotChilled: 1, models.Flash: 0.75}

func bathAmount(p *Papers, report report) {
	for _, b := range p.due() {
		mass, ok := p.inBath(b)
		if !ok {
			if b.BathIceG > 0 {
				report(b.ID, "%.0f g of bath ice without a bath", b.BathIceG)
			}
			continue
		}
		share := bathShare[p.beverage(b.Beverage).Method]
		if own := p.request.Ice.BathIcePerKg; own != nil {
			share = *own
		}
		if b.BathIceG < share*mass-100 {
			report(b.ID, "%.1f kg of ice for %.1f kg of coffee", b.BathIceG/1000, mass/1000)
		}
	}
}

func bathSupply(p *Papers, report report) {
	x := &p.request.Ice
	end := p.request.Site.DayEnd(p.request.From.AddDays(p.request.Days - 1))
	need, from := 0.0, 0.0
	for _, b := range p.due() {
		need += b.BathIceG
		from += b.BathFromDrinksG
	}
	if !near(from, p.plan.Ice.BathFromDrinksG, 200, 0.01) && from > p.plan.Ice.BathFromDrinksG {
		report("plan", "batches take %.0f g of ice for drinks for their baths, the balance counts %.0f g", from, p.plan.Ice.BathFromDrinksG)
	}
	have := x.Plain.OpeningG + p.makesWithin(models.Span{From: p.plan.ComputedAt, To: end}, false) + from
	for code, loads := range p.loads() {
		if m := p.mould(code); !m.Treated {
			for _, l := range loads {
				have += l.G
			}
		}
	}
	if need > have*1.01+200 {
		report("plan", "%.1f kg of ice for baths, %.1f kg to be had", need/1000, have/1000)
	}
}

// bathSpan is when a batch surely occupies an ice bath.
func (p *Papers) bathSpan(b *batch) (models.Span, bool) {
	mass, ok := p.inBath(b)
	w := p.brewer(b.Brewer)
	if !ok || w == nil {
		return models.Span{}, false
	}
	bev := p.beverage(b.Beverage)
	from := b.Start.Add(models.Minutes(w.BusyMin))
	if !b.StrainAt.IsZero() {
		from = b.StrainAt
	}
	if bev.RestTempC != nil && bev.CoolingUAWPerK != nil && bev.Method != models.Steeped {
		room := min(25, *bev.RestTempC-1) // rested below room temperature, in something a little colder
		from = from.Add(models.Minutes(1 + 1.05*coolingMin(mass, b.BrewerOutTempC, room, *bev.CoolingUAWPerK, *bev.RestTempC)))
	}
	to := b.Ready
	switch {
	case !b.IceAt.IsZero():
		to = b.IceAt
	case b.CoolingMin != nil:
		to = b.Start.Add(models.Minutes(w.BusyMin + *b.CoolingMin))
	}
	return models.Span{From: from, To: to}, from.Before(to)
}

func bathVessels(p *Papers, report report) {
	if p.request.Site.Baths == nil {
		return
	}
	var spans []models.Span
	var ids []string
	for _, b := range p.due() {
		if s, ok := p.bathSpan(b); ok {
			spans = append(spans, s)
			ids = append(ids, b.ID)
		}
	}
	for i, s := range spans {
		n := 0
		for _, o := range spans {
			if o.Contains(s.From.Add(time.Second)) {
				n++
			}
		}
		if n > *p.request.Site.Baths {
			report(ids[i], "%d batches in ice baths at %s, %d vessels", n, p.clock(s.From), *p.request.Site.Baths)
		}
	}
}
