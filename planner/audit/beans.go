package audit

import (
	"math"
	"time"

	"hotday/models"
)

var beanRules = []Rule{
	{"beans.enough", "Every batch has its beans, of lots that are there, rested and not too old.", beansEnough},
	{"beans.sum", "A batch's beans are its dose and the grinder's loss.", beansSum},
	{"beans.got_out", "Beans are got out before the batch that uses them, thawed where they were frozen.", beansGotOut},
}

// beansG is the beans for a batch, g.
func (p *Papers) beansG(b *batch) float64 {
	return b.DoseG / (1 - p.coffee(p.beverage(b.Beverage).Coffee).GrinderLossPct/100)
}

func (p *Papers) lot(coffee, code string) *models.BeanLot {
	c := p.coffee(coffee)
	for i := range c.Lots {
		if c.Lots[i].Code == code {
			return &c.Lots[i]
		}
	}
	return nil
}

func beansEnough(p *Papers, report report) {
	used := map[[2]string]float64{}
	for _, b := range p.due() {
		coffee := p.beverage(b.Beverage).Coffee
		c := p.coffee(coffee)
		if len(b.Lots) == 0 {
			report(b.ID, "no beans for %.0f g of %s", b.DoseG, coffee)
			continue
		}
		for _, u := range b.Lots {
			l := p.lot(coffee, u.Lot)
			if l == nil {
				report(b.ID, "no lot %s of %s", u.Lot, coffee)
				continue
			}
			key := [2]string{coffee, u.Lot}
			if used[key] += u.G; used[key] > l.Grams+1 && used[key]-u.G <= l.Grams+1 {
				report(b.ID, "lot %s holds %.0f g, batches take %.0f g by then", u.Lot, l.Grams, used[key])
			}
			lo, hi := restDays(l, b.Date)
			if hi < c.RestDaysMin || lo > c.RestDaysMax {
				report(b.ID, "lot %s has rested %.0f days, usable from %.0f to %.0f", u.Lot, hi, c.RestDaysMin, c.RestDaysMax)
			}
		}
	}
}

// restDays bounds the days that a lot has rested on a date; those in the freezer do not count.
func restDays(l *models.BeanLot, d models.Date) (lo, hi float64) {
	hi = float64(l.RoastedOn.DaysUntil(d))
	if l.Place != "freezer" {
		return hi, hi
	}
	frozen := l.RoastedOn
	if l.FrozenOn != nil {
		frozen = *l.FrozenOn
	}
	before := float64(l.RoastedOn.DaysUntil(frozen))
	return before, min(hi, before+16) // out of the freezer for no longer than a plan
}

func beansSum(p *Papers, report report) {
	for _, b := range p.due() {
		if len(b.Lots) == 0 {
			continue
		}
		sum := 0.0
		for _, u := range b.Lots {
			sum += u.G
		}
		if need := p.beansG(b); !near(sum, need, 0.6, 1e-4) {
			report(b.ID, "%.1f g from lots, %.1f g to grind", sum, need)
		}
	}
}

func beansGotOut(p *Papers, report report) {
	type key struct{ coffee, lot string }
	out, used := map[key]float64{}, map[key]float64{}
	for i := range p.plan.Pulls {
		u := &p.plan.Pulls[i]
		out[key{u.Coffee, u.Lot}] += u.G
		if u.UseFrom.Before(u.PullBy) {
			report(u.Lot, "to use from %s, got out at %s", p.clock(u.UseFrom), p.clock(u.PullBy))
		}
		if thaw := models.Hours(p.coffee(u.Coffee).ThawH); u.FromPlace == "freezer" && u.UseFrom.Sub(u.PullBy) < thaw-time.Second {
			report(u.Lot, "thaws %s, needs %s", u.UseFrom.Sub(u.PullBy), thaw)
		}
	}
	for _, b := range p.due() {
		coffee := p.beverage(b.Beverage).Coffee
		for _, u := range b.Lots {
			k := key{coffee, u.Lot}
			used[k] += u.G
			first := time.Time{}
			for i := range p.plan.Pulls {
				if x := &p.plan.Pulls[i]; x.Coffee == coffee && x.Lot == u.Lot && (first.IsZero() || x.UseFrom.Before(first)) {
					first = x.UseFrom
				}
			}
			if first.IsZero() || first.After(b.Start) {
				report(b.ID, "lot %s is not got out by %s", u.Lot, p.clock(b.Start))
			}
		}
	}
	for k, g := range used {
		if got := out[k]; got > 0 && math.Floor(g) > got+1 {
			report(k.lot, "batches use %.0f g, %.0f g are got out", g, got)
		}
	}
}
