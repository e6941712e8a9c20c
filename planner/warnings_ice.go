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

// Least chance and amount at which running short is worth a warning.
const (
	iceChance       = 0.10
	leastIceG       = 200
	leastShortShare = 0.02 // of a day's beverage, one serving at least
)

// warnIce says for each service day how likely the drink ice runs out.
func (j *job) warnIce() {
	days := outlookDays(j.outlook.Flows, flowIce)
	spans := j.h.daySlots()
	for d, date := range j.h.days {
		var o risk.Shortage
		if d < len(days) {
			o = days[d]
		}
		planned, first := 0.0, -1
		for t := spans[d][0]; t < spans[d][1]; t++ {
			if g := j.drink.run.short[t]; g > 0.5 {
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
		if o.Chance*100 > j.iceChance {
			j.iceChance, j.iceAmount, j.iceAt = o.Chance*100, amount/1000, at
			j.iceMore = max(o.P90, planned) / 1000
		}
		s := about("drink|" + string(date))
		s.day, s.more = d, max(o.P90, planned)/1000
		why, fields := j.iceCause(at)
		j.warn(s, models.WarnIceShort, "", j.h.at(at), amount/1000, "kg", o.Chance*100, fields,
			j.q.Say("warn.ice_short", "at", j.when(j.h.at(at)), "chance", say.Digits(o.Chance*100, 0)+" %", "mass", j.q.Kilos(amount, 1), "why", why))
	}
}

func outlookDays(list []risk.Outlook, i int) []risk.Shortage {
	if i >= len(list) {
		return nil
	}
	return list[i].Days
}

// iceCause says what limits the drink ice before slot at.
func (j *job) iceCause(at int) (string, []string) {
	var fields []string
	var parts []string
	for k, m := range j.req.Ice.Makers {
		if !m.Treated {
			continue
		}
		hot := j.hottestBefore(at)
		best := j.makerAt(k, hot.slot)
		field := fmt.Sprintf("ice.makers.%d.kg_per_day_rated", k)
		if len(m.Curve) > 0 {
			field = fmt.Sprintf("ice.makers.%d.curve", k)
		}
		fields = append(fields, field)
		if len(outages(j.req, "maker", m.Code)) > 0 {
			parts = append(parts, j.q.Say("warn.maker_out", "maker", m.Code))
			for i, o := range j.req.Outages {
				if o.Kind == "maker" && o.Code == m.Code {
					fields = append(fields, fmt.Sprintf("outages.%d", i))
				}
			}
			continue
		}
		if m.KgPerDayRated > 0 {
			rated := say.Digits(m.KgPerDayRated, 0)
			if j.q.Pounds() {
				rated = j.q.Mass(m.KgPerDayRated * 1000)
			}
			parts = append(parts, j.q.Say("warn.maker_yields_less", "maker", m.Code, "mass", j.q.Kilos(best*1000, 0), "temp", j.q.Degrees(hot.c, 0), "rated", rated))
		} else {
			parts = append(parts, j.q.Say("warn.maker_yields", "maker", m.Code, "mass", j.q.Kilos(best*1000, 0), "temp", j.q.Degrees(hot.c, 0)))
		}
	}
	if len(parts) == 0 {
		parts = append(parts, j.q.Say("warn.no_maker"))
		fields = append(fields, "ice.makers")
	}
	full := false
	for t := 0; t <= at && t < j.h.n; t++ {
		full = full || (j.drink.capacity > 0 && j.drink.run.level[t] >= j.drink.capacity*0.995)
	}
	if full {
		parts = append(parts, j.q.Say("warn.bin_holds", "mass", j.q.About(j.drink.capacity)))
		fields = append(fields, "ice.bin_g")
	}
	if n := len(j.req.Ice.Moulds); n > 0 && len(j.drink.units) > 0 {
		parts = append(parts, j.q.Say("warn.moulds_counted"))
	}
	return strings.Join(parts, j.q.Say("said.comma")), append(fields, "ice.opening_g")
}

type hotSlot struct {
	slot int
	c    float64
}

// hottestBefore is the hottest slot of the twelve hours before slot at.
func (j *job) hottestBefore(at int) hotSlot {
	best := hotSlot{c: math.Inf(-1)}
	for t := max(0, at-int(12/j.h.hours())); t <= at && t < j.h.n; t++ {
		if j.air[t] > best.c {
			best = hotSlot{t, j.air[t]}
		}
	}
	return best
}

// makerAt is a maker's output in kg a day at slot t, outages left out.
func (j *job) makerAt(row, t int) float64 {
	for _, m := range append(slices.Clone(j.drink.makers), j.plain.makers...) {
		if m.row == row && t >= 0 && t < len(m.g) {
			return m.g[t] / j.h.hours() * 24 / 1000
		}
	}
	return 0
}

// warnPlain says what bath ice lacks, and warns of plain ice where drinks need ice that is not there.
func (j *job) warnPlain() {
	first, lack := -1, 0.0
	for t, g := range j.plain.run.lack {
		if g > 1 {
			lack += g
			if first < 0 {
				first = t
			}
		}
	}
	if first >= 0 {
		s := about("plain")
		j.warn(s, models.WarnIceShort, "", j.h.at(first), lack/1000, "kg", 100, []string{"ice.plain", "ice.plain.opening_g"},
			j.q.Say("warn.plain_short", "at", j.when(j.h.at(first)), "mass", j.q.Kilos(lack, 1), "more", j.q.Kilos(math.Ceil(lack/500)*500, 1)))
	}
	if j.out.Ice.ServedG+j.out.Ice.StirredInG+j.out.Ice.ShortG < 1 {
		return
	}
	var plain []string
	for k, m := range j.req.Ice.Makers {
		if !m.Treated {
			plain = append(plain, fmt.Sprintf("ice.makers.%d.treated", k))
		}
	}
	for k, m := range j.req.Ice.Moulds {
		if !m.Treated {
			plain = append(plain, fmt.Sprintf("ice.moulds.%d.treated", k))
		}
	}
	if len(plain) == 0 && j.req.Ice.Plain.OpeningG <= 0 {
		return
	}
	treated := len(j.drink.makers)+len(j.drink.units) > 0 || j.drink.opening > 0
	if treated && j.iceChance == 0 {
		return
	}
	risk, amount, t := j.iceChance, j.iceAmount, j.iceAt
	key := "warn.plain_at_hand"
	if !treated {
		key = "warn.plain_only"
		t = max(0, firstAbove(j.drink.run.short, 0.5))
		risk, amount = 100, j.out.Ice.ShortG/1000
	}
	s := about("plain in drinks")
	s.day, s.more = max(0, j.h.dayOf(t)), j.iceMore
	j.warn(s, models.WarnPlainIce, "", j.h.at(t), amount, "kg", risk, append(plain, "ice.plain"),
		j.q.Say(key, "at", j.when(j.h.at(t)), "mass", j.q.Kilos(math.Ceil(amount*2)*500, 1)))
}

// dayOf is the service day that slot t belongs to.
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
