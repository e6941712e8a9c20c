package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/risk"
	"hotday/planner/say"
)

// Smallest chance and amount of a shortage worth a warning.
const (
	iceChance       = 0.10
	leastIceG       = 200
	leastShortShare = 0.02 // of a day's demand; at least one serving
)

// iceShortage is the likeliest day on which ice for drinks runs out.
type iceShortage struct {
	chancePct float64
	kg        float64
	planKg    float64 // to plan a fix for
	slot      int
}

// warnIce warns, for each service day, of running out of ice for drinks, and returns the likeliest such day.
func (dr *draft) warnIce() (out []warning, likeliest iceShortage) {
	days := outlookDays(dr.outlook.Flows, flowIce)
	spans := dr.h.daySlots()
	for d := dr.h.before; d < len(dr.h.days); d++ {
		date := dr.h.days[d]
		var o risk.Shortage
		if d < len(days) {
			o = days[d]
		}
		planned, first := 0.0, -1
		for t := spans[d][0]; t < spans[d][1]; t++ {
			if g := dr.drink.run.short[t]; g > 0.5 {
				planned += g
				if first < 0 {
					first = t
				}
			}
		}
		amount := o.Median
		if o.Chance < iceChance || amount < leastIceG {
			if planned < leastIceG || o.Chance < iceChance/2 {
				continue
			}
			amount = max(amount, planned)
		}
		at := o.FirstSlot
		if at < 0 {
			at = first
		}
		if o.Chance*100 > likeliest.chancePct {
			likeliest = iceShortage{chancePct: o.Chance * 100, kg: amount / 1000, planKg: max(o.P90, planned) / 1000, slot: at}
		}
		s := about("drink|" + string(date))
		s.day, s.more = d, max(o.P90, planned)/1000
		why, fields := dr.iceCause(at)
		out = append(out, dr.warning(s, models.WarnIceShort, "", dr.h.at(at), amount/1000, "kg", o.Chance*100, fields,
			dr.q.Say("warn.runs_out", "what", dr.q.Say("warn.drink_ice"), "at", dr.when(dr.h.at(at)), "chance", dr.q.AboutChance(o.Chance*100), "mass", dr.q.GlanceMass(amount), "why", why)))
	}
	return out, likeliest
}

func outlookDays(list []risk.Outlook, i int) []risk.Shortage {
	if i >= len(list) {
		return nil
	}
	return list[i].Days
}

// iceCause words the limits of ice for drinks before slot at, and names their fields.
func (dr *draft) iceCause(at int) (string, []string) {
	var fields []string
	var parts []string
	for k, m := range dr.req.Ice.Makers {
		if !m.Treated {
			continue
		}
		hot := dr.hottestBefore(at)
		best := dr.makerAt(k, hot.slot)
		field := fmt.Sprintf("ice.makers.%d.kg_per_day_rated", k)
		if len(m.Curve) > 0 {
			field = fmt.Sprintf("ice.makers.%d.curve", k)
		}
		fields = append(fields, field)
		if len(outages(dr.req, "maker", m.Code)) > 0 {
			parts = append(parts, dr.q.Say("warn.maker_out", "maker", m.Code))
			for i, o := range dr.req.Outages {
				if o.Kind == "maker" && o.Code == m.Code {
					fields = append(fields, fmt.Sprintf("outages.%d", i))
				}
			}
			continue
		}
		parts = append(parts, dr.makerYield(&m, best, hot))
	}
	if len(parts) == 0 {
		parts = append(parts, dr.q.Say("warn.no_maker"))
		fields = append(fields, "ice.makers")
	}
	full := false
	for t := 0; t <= at && t < dr.h.n; t++ {
		full = full || (dr.drink.capacity > 0 && dr.drink.run.level[t] >= dr.drink.capacity*0.995)
	}
	if full {
		parts = append(parts, dr.q.Say("warn.bin_holds", "mass", dr.q.GlanceMass(dr.drink.capacity)))
		fields = append(fields, "ice.bin_g")
	}
	if n := len(dr.req.Ice.Moulds); n > 0 && len(dr.drink.units) > 0 {
		parts = append(parts, dr.q.Say("warn.moulds_counted"))
	}
	return strings.Join(parts, dr.q.Say("said.comma")), append(fields, "ice.opening_g")
}

// makerYield words what an ice machine makes in the heat, kg a day, beside what it is rated for. Without a forecast for that hour, no
// temperature is named.
func (dr *draft) makerYield(m *models.IceMaker, kgPerDay float64, hot hotSlot) string {
	mass := dr.q.GlanceMass(kgPerDay * 1000)
	rated := say.Number(m.KgPerDayRated, 0)
	if dr.q.Pounds() {
		rated = dr.q.GlanceMass(m.KgPerDayRated * 1000)
	}
	forecast := hot.slot < len(dr.forecast) && dr.forecast[hot.slot]
	switch {
	case forecast && m.KgPerDayRated > 0:
		return dr.q.Say("warn.maker_yields_less", "maker", m.Code, "mass", mass, "temp", dr.q.WholeTemp(hot.c), "rated", rated)
	case forecast:
		return dr.q.Say("warn.maker_yields", "maker", m.Code, "mass", mass, "temp", dr.q.WholeTemp(hot.c))
	case m.KgPerDayRated > 0:
		return dr.q.Say("warn.maker_yields_less_unknown", "maker", m.Code, "mass", mass, "rated", rated)
	}
	return dr.q.Say("warn.maker_yields_unknown", "maker", m.Code, "mass", mass)
}

type hotSlot struct {
	slot int
	c    float64
}

// hottestBefore returns the hottest slot of the twelve hours before slot at.
func (kt *kitchen) hottestBefore(at int) hotSlot {
	best := hotSlot{c: math.Inf(-1)}
	for t := max(0, at-int(12/kt.h.hours())); t <= at && t < kt.h.n; t++ {
		if kt.air[t] > best.c {
			best = hotSlot{t, kt.air[t]}
		}
	}
	return best
}

// makerAt returns an ice machine's output at slot t, kg a day, without outages.
func (dr *draft) makerAt(row, t int) float64 {
	for _, m := range append(slices.Clone(dr.drink.makers), dr.plain.makers...) {
		if m.row == row && t >= 0 && t < len(m.g) {
			return m.g[t] / dr.h.hours() * 24 / 1000
		}
	}
	return 0
}

// warnPlain warns of missing ice-bath ice, and against using it in drinks when their own ice runs out.
func (dr *draft) warnPlain(p *models.IcePlan, likeliest iceShortage) (out []warning) {
	out = append(out, dr.warnBaths()...)
	if p.ServedG+p.StirredInG+p.ShortG < 1 {
		return out
	}
	var plain []string
	for k, m := range dr.req.Ice.Makers {
		if !m.Treated {
			plain = append(plain, fmt.Sprintf("ice.makers.%d.treated", k))
		}
	}
	for k, m := range dr.req.Ice.Moulds {
		if !m.Treated {
			plain = append(plain, fmt.Sprintf("ice.moulds.%d.treated", k))
		}
	}
	if len(plain) == 0 && dr.req.Ice.Plain.OpeningG <= 0 {
		return out
	}
	treated := len(dr.drink.makers)+len(dr.drink.units) > 0 || dr.drink.opening > 0
	if treated && likeliest.chancePct == 0 {
		return out
	}
	risk, amount, t := likeliest.chancePct, likeliest.kg, likeliest.slot
	key := "warn.plain_at_hand"
	if !treated {
		key = "warn.plain_only"
		t = max(0, firstAbove(dr.drink.run.short, 0.5))
		risk, amount = 100, p.ShortG/1000
	}
	s := about("plain in drinks")
	s.day, s.more = max(0, dr.h.dayOf(t)), likeliest.planKg
	out = append(out, dr.warning(s, models.WarnPlainIce, "", dr.h.at(t), amount, "kg", risk, append(plain, "ice.plain"),
		dr.q.Say(key, "at", dr.when(dr.h.at(t)), "mass", dr.q.GlanceMass(math.Ceil(amount*2)*500))))
	return out
}

// dayOf returns the service day of slot t.
func (h *horizon) dayOf(t int) int {
	for d, span := range h.daySlots() {
		if t < span[1] {
			return d
		}
	}
	return len(h.days) - 1
}

func firstAbove(xs []float64, x float64) int {
	for t, v := range xs {
		if v > x {
			return t
		}
	}
	return -1
}
