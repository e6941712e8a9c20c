package audit

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
)

var foodRules = []Rule{
	{"food.use_by", "A batch's use-by time is its hold time after it is ready, never beyond the site's.", useBys},
	{"food.unknown_cooling", "Unknown cooling never passes silently.", unknownCooling},
	{"food.cooling_slow", "A batch that cools slower than the rule has a warning.", coolingSlow},
	{"food.lax", "Lax settings are act-today until a named person has signed them off.", laxSettings},
	{"food.discard", "A discard states what will be left then, and every batch that leaves something has one.", discards},
	{"food.temp_log", "Fridge temperatures are read twice a day, once where people are there for few hours, where the site has picked food safety rules.", temperatureLog},
}

func useBys(p *Papers, report report) {
	for i := range p.plan.Batches {
		b := &p.plan.Batches[i]
		hold := models.Hours(min(p.beverage(b.Beverage).HoldH, p.request.Site.MaxHoldH))
		if b.UseBy.Sub(b.Ready) > hold+time.Second {
			report(b.ID, "ready at %s, use by %s, hold time %s", p.clock(b.Ready), p.clock(b.UseBy), hold)
		}
		if b.State == models.Due && b.Ready.Before(b.Start) {
			report(b.ID, "ready before it starts")
		}
	}
}

// unknownCooling: hot coffee that has to get colder than its ice makes it, in a time that nobody knows.
func unknownCooling(p *Papers, report report) {
	for _, b := range p.due() {
		bev := p.beverage(b.Beverage)
		if bev.Method == models.Steeped || b.CoolToBeforeIceC == nil || b.CoolingMin != nil {
			continue
		}
		said := slices.ContainsFunc(p.plan.Warnings, func(w warning) bool {
			return w.Subject == bev.Code && (strings.Contains(w.Kind, "cool") || strings.Contains(w.Rule, "cool") ||
				slices.ContainsFunc(w.Fields, func(f string) bool { return strings.Contains(f, "cooling") }))
		})
		if said {
			continue
		}
		if bev.Bath {
			report(b.ID, "%s cools in a bath in a time that nobody has measured, without a note", bev.Code)
		} else {
			report(b.ID, "%s cools outside a bath in a time that nobody has measured", bev.Code)
		}
	}
}

// Cooling from 57 °C to 5 °C may take six hours by the most lenient of the usual rules (FDA Food Code 2022 3-501.14, from memory).
const slowestCoolingMin = 360

func coolingSlow(p *Papers, report report) {
	for _, b := range p.due() {
		bev := p.beverage(b.Beverage)
		if bev.Method == models.Steeped || b.CoolingMin == nil || *b.CoolingMin <= slowestCoolingMin {
			continue
		}
		if !p.warned(models.WarnCoolingSlow, bev.Code) {
			report(b.ID, "cools in %.0f min without a warning", *b.CoolingMin)
		}
	}
}

// coldLimitC is the highest temperature of cold storage that a set of rules allows, °C; from memory.
func coldLimitC(rules string) float64 {
	if rules == models.FoodRulesUK {
		return 8
	}
	return 5
}

func laxSettings(p *Papers, report report) {
	s := &p.request.Site
	signed := func(of string) bool {
		return slices.ContainsFunc(s.SignOffs, func(x models.SignOff) bool { return x.Of == of })
	}
	act := func(field string) bool {
		return slices.ContainsFunc(p.plan.Warnings, func(w warning) bool {
			return slices.Contains(w.Fields, field) && w.Grade != models.GradeNote
		})
	}
	limit := coldLimitC(s.FoodRules)
	if s.StoreTempC > limit+0.05 && !signed("") && !act("site.store_temp_c") && len(p.plan.Batches) > 0 {
		report("site.store_temp_c", "%.1f °C without a warning to act on today", s.StoreTempC)
	}
	for i := range p.request.Beverages {
		b := &p.request.Beverages[i]
		planned := slices.ContainsFunc(p.due(), func(x *batch) bool { return x.Beverage == b.Code })
		if field := "beverages." + itoa(i) + ".steep_temp_c"; planned && b.Method == models.Steeped && b.SteepTempC > limit+0.05 && !signed(b.Code) && !act(field) {
			report(field, "steeped at %.1f °C without a warning to act on today", b.SteepTempC)
		}
	}
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + itoa(n%10)
}

// stockBefore is the stock of a beverage by the curve just before an instant, g.
func (p *Papers) stockBefore(beverage string, t time.Time) float64 {
	g := 0.0
	for _, x := range p.stockInOrder() {
		if x.Beverage == beverage && x.At.Before(t) {
			g = x.G
		}
	}
	return g
}

// stockAt is the stock at an instant, g.
func (p *Papers) stockAt(beverage string, t time.Time) float64 {
	return p.stockBefore(beverage, t.Add(1))
}

// discardWithinG is how much a discard may differ from what will be left, g: a serving.
const discardWithinG = 200

func discards(p *Papers, report report) {
	for _, t := range p.tasks {
		if t.Kind != models.TaskDiscard || t.State != models.Due {
			continue
		}
		if t.Discard == nil {
			report(t.ID, "no amount")
			continue
		}
		if t.Batch != nil && t.Discard.G > t.Batch.BeverageG+1 {
			report(t.ID, "%.0f g of a batch of %.0f g", t.Discard.G, t.Batch.BeverageG)
		}
		id := ""
		for i := range p.plan.Batches {
			if b := &p.plan.Batches[i]; t.ofBatch(b) {
				id = b.ID
			}
		}
		stated, agrees := false, false
		for _, l := range p.plan.Left {
			if l.Beverage == t.Discard.Beverage && l.Batch == id {
				stated = true
				agrees = agrees || near(l.G, t.Discard.G, 20, 0.05)
			}
		}
		switch {
		case stated && !agrees:
			report(t.ID, "%.0f g, other than the plan expects to be left", t.Discard.G)
		case stated:
		case t.Discard.G > max(p.stockAt(t.Discard.Beverage, t.At), p.stockBefore(t.Discard.Beverage, t.At))+discardWithinG:
			report(t.ID, "%.0f g at %s, the stock is less then", t.Discard.G, p.clock(t.At))
		}
		if t.Batch != nil {
			continue
		}
		there := discardWithinG * 0.1
		for _, x := range p.request.Stock {
			if x.Beverage == t.Discard.Beverage {
				there += x.G
			}
		}
		for _, u := range p.request.UnderWay {
			if u.Beverage != nil && *u.Beverage == t.Discard.Beverage && u.BeverageG != nil {
				there += *u.BeverageG
			}
		}
		if t.Discard.G > there {
			report(t.ID, "%.0f g of earlier stock, of which there were %.0f g", t.Discard.G, there)
		}
	}
}

// fewHours is how long people must be there for a second reading of the fridge.
const fewHours = 4 * time.Hour

func temperatureLog(p *Papers, report report) {
	if p.request.Site.FoodRules == "" || len(p.request.Beverages) == 0 {
		return
	}
	for i := range p.sheets {
		s := &p.sheets[i]
		var there time.Duration
		past := false
		day := models.Span{From: p.dayBegins(s.Date), To: p.dayBegins(s.Date.AddDays(1))}
		for _, x := range p.workable(s.Date) {
			if o := x.Overlap(day); !o.Empty() {
				there += o.To.Sub(o.From)
				past = past || o.From.Before(p.plan.ComputedAt)
			}
		}
		n := 0
		for k := range s.Tasks {
			if t := &s.Tasks[k]; t.Kind == models.TaskTempLog && t.Batch == nil {
				n++
			}
		}
		switch {
		case past: // one reading or both may be over
		case there >= fewHours && n < 2 || there >= 30*time.Minute && n < 1:
			report(string(s.Date), "%d readings of the fridge, people are there for %s", n, there)
		case there == 0 && n > 0:
			report(string(s.Date), "%d readings of the fridge, nobody is there", n)
		}
	}
}

// dayBegins is when a service day begins: at midnight, or when the shop closes after it.
func (p *Papers) dayBegins(d models.Date) time.Time {
	at := d.At(0, p.loc)
	for _, s := range p.request.Site.OpenSpans(d.AddDays(-1)) {
		at = models.Later(at, s.To)
	}
	return at
}

// workable returns when somebody is there for a day's opening hours and may begin something.
func (p *Papers) workable(d models.Date) (out []models.Span) {
	var shut []models.Span
	for _, a := range p.request.Attention {
		if a.Starts == 0 {
			shut = append(shut, models.Span{From: a.From, To: a.To})
		}
	}
	for _, s := range presenceFor(p.request, openHours(p.request, []models.Date{d})) {
		out = append(out, models.Without(s, shut)...)
	}
	return out
}
