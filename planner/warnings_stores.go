package planner

import (
	"fmt"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/bean"
	"hotday/planner/say"
	"hotday/planner/water"
)

// warnBeans warns of missing coffee, with the rule that keeps lots from being used and the beverage that is not made for it.
func (dr *draft) warnBeans() (out []warning) {
	for coffee := range dr.req.Coffees {
		c := &dr.req.Coffees[coffee]
		days := shortDays(dr.beans, coffee)
		lost := dr.cut.beans[coffee]
		if lost >= worthSayingG {
			days = shortDays(dr.cut.days, coffee)
		}
		if len(days) == 0 {
			continue
		}
		short, need := 0.0, 0.0
		for _, d := range days {
			short += d.ShortfallG
			need += d.TakeG
		}
		s := about(c.Code)
		s.coffee = coffee
		fields := []string{fmt.Sprintf("coffees.%d.lots", coffee)}
		why := dr.beansWhy(&days[0], coffee, &s, &fields)
		at := days[0].Need.UseFrom
		args := []any{"at", dr.when(at), "mass", dr.q.GlanceMass(short), "coffee", c.Code, "need", dr.q.GlanceMass(need), "lost", dr.q.GlanceMass(lost), "why", why}
		key := "warn.beans_short"
		if lost >= worthSayingG {
			key = "warn.beans_cut"
		}
		out = append(out, dr.warning(s, models.WarnBeansShort, "", at, short, "g", 100, fields, dr.q.Say(key, args...)))
	}
	return out
}

// worthSayingG is the beverage not made that is worth a warning, g.
const worthSayingG = 50

// shortDays are the days on which a coffee is short.
func shortDays(list []beanDay, coffee int) (out []bean.Day) {
	for _, d := range list {
		if d.coffee == coffee && d.day.ShortfallG >= 1 {
			out = append(out, d.day)
		}
	}
	return out
}

// beansWhy says why beans are missing on a day; the first reason is the subject's, and fields are the related ones of the request.
func (dr *draft) beansWhy(d *bean.Day, coffee int, s *subject, fields *[]string) string {
	why := dr.q.Say("warn.no_beans")
	for i, x := range d.Shortfalls {
		text := ""
		switch x.Reason {
		case bean.TooYoung:
			text = dr.q.Say("warn.lot_young", "lot", x.Lot, "day", dr.calendarDay(x.Usable))
			*fields = append(*fields, fmt.Sprintf("coffees.%d.rest_days_min", coffee))
		case bean.TooOld:
			text = dr.q.Say("warn.lot_old", "lot", x.Lot, "day", dr.calendarDay(x.Usable))
			*fields = append(*fields, fmt.Sprintf("coffees.%d.rest_days_max", coffee))
		case bean.ThawLate:
			text = dr.q.Say("warn.lot_frozen", "lot", x.Lot)
			*fields = append(*fields, fmt.Sprintf("coffees.%d.thaw_h", coffee))
		default:
			if i == 0 {
				continue
			}
			text = dr.q.Say("warn.no_others")
		}
		if s.reason == "" {
			s.reason, why = string(x.Reason), text
		} else {
			why += dr.q.Say("said.comma") + text
		}
	}
	return why
}

// calendarDay writes the date of a time in its own zone.
func (st *setting) calendarDay(t time.Time) string {
	return st.q.Day(models.DateOf(t, t.Location()).At(720, st.loc))
}

// warnWater warns of treated water that is missing, with the beverage that is not made for it, and of unsuitable water.
func (dr *draft) warnWater() (out []warning) {
	first, lack := -1, 0.0
	for t, l := range dr.water.lack() {
		if l > lackL {
			lack += l
			if first < 0 {
				first = t
			}
		}
	}
	key, lost := "warn.tank", dr.cut.water
	if at, ok := dr.cut.first[limitWater]; ok && lost >= worthSayingG {
		key, first, lack = "warn.tank_cut", at, dr.cut.short[limitWater]
	}
	if first >= 0 && lack >= worthSayingL {
		w := &dr.req.Water
		fields := []string{"water.make_l_per_h", "water.tank_l", "water.opening_l"}
		for i, o := range dr.req.Outages {
			if o.Kind == "tank" {
				fields = append(fields, fmt.Sprintf("outages.%d", i))
			}
		}
		cause := dr.q.Say(key, "at", dr.when(dr.h.at(first)), "volume", dr.q.Volume(lack), "tank", dr.q.Volume(w.TankL), "make", dr.q.Volume(w.MakeLPerH), "lost", dr.q.GlanceMass(lost))
		if len(fields) > 3 {
			cause += dr.q.Say("warn.tank_out")
		}
		out = append(out, dr.warning(about("tank"), models.WarnWaterShort, "", dr.h.at(first), lack, "L", 100, fields, cause))
	}
	return append(out, dr.warnFit()...)
}

func (dr *draft) warnFit() (out []warning) {
	if dr.needs == nil || dr.water.total() <= 0 {
		return out
	}
	d := dr.water.dosing
	got := d.ExactResult
	note := func(key string, amount float64, unit string, fields []string, cause string) {
		out = append(out, dr.warning(about(key), models.WarnWaterUnsuitable, models.GradeNote, dr.h.start, amount, unit, 100, fields, cause))
	}
	if !d.Reachable {
		note("target", got.Hardness(), "mg/L", []string{"water.source", "water.target", "water.salts"},
			dr.q.Say("warn.salts", "hardness", say.Number(got.Hardness(), 0), "hardness_target", say.Number(dr.req.Water.Target.HardnessMgLCaCO3, 0),
				"alkalinity", say.Number(got.Alkalinity(), 0), "alkalinity_target", say.Number(dr.req.Water.Target.AlkalinityMgLCaCO3, 0)))
	}
	if d.ChargeOffMeq < -0.2 {
		note("charge", -d.ChargeOffMeq, "meq/L", []string{"water.source"}, dr.q.Say("warn.ions", "off", dr.q.Number(-d.ChargeOffMeq, 1)))
	}
	if unfit := dr.q.Unsuitable(got); len(unfit) > 0 {
		note("range", got.Hardness(), "mg/L", []string{"water.target", "water.source"}, dr.q.Say("warn.water_range", "why", strings.Join(unfit, dr.q.Say("said.semicolon"))))
	}
	for k, m := range dr.req.Ice.Makers {
		if soft := got.Times(m.MineralShare); m.Treated && m.MineralShare < 0.5 && soft.CalciumHardness() < water.CalciumLow {
			note("ice "+m.Code, soft.Hardness(), "mg/L", []string{fmt.Sprintf("ice.makers.%d.mineral_share", k)},
				dr.q.Say("warn.soft_ice", "maker", m.Code, "share", say.Number(m.MineralShare*100, 0), "hardness", say.Number(soft.Hardness(), 0)))
		}
	}
	return out
}

// warnStore warns of stock to throw away before the plan begins.
func (dr *draft) warnStore() (out []warning) {
	surplus := 0.0
	fields := []string{"site.store_g"}
	for _, t := range dr.thrown {
		if t.expired {
			s := about(fmt.Sprintf("stock %d", t.row))
			s.bev = t.bev
			out = append(out, dr.warning(s, models.WarnHoldTooLong, models.GradeActNow, dr.h.start, t.g/1000, "kg", 100,
				[]string{fmt.Sprintf("stock.%d.made_at", t.row), fmt.Sprintf("beverages.%d.hold_h", t.bev)},
				dr.q.Say("warn.expired", "mass", dr.q.GlanceMass(t.g), "beverage", dr.name(t.bev), "until", dr.when(t.until))))
			continue
		}
		surplus += t.g
		if t.row >= 0 {
			fields = append(fields, fmt.Sprintf("stock.%d.g", t.row))
		}
	}
	if surplus >= 1 {
		out = append(out, dr.warning(about("opening"), models.WarnColdStoreFull, models.GradeActNow, dr.h.start, surplus/1000, "kg", 100, fields,
			dr.q.Say("warn.store_full", "mass", dr.q.GlanceMass(surplus), "holds", dr.q.GlanceMass(dr.req.Site.StoreG))))
	}
	for _, s := range []struct {
		stream *iceStream
		key    string
		fields []string
		say    string
	}{{dr.drink, "ice", []string{"ice.opening_g", "ice.bin_g"}, "warn.ice_full"}, {dr.plain, "plain ice", []string{"ice.plain.opening_g", "ice.plain.bin_g"}, "warn.plain_full"}} {
		if g := s.stream.surplusG; g >= 1 {
			out = append(out, dr.warning(about(s.key), models.WarnColdStoreFull, models.GradeActNow, dr.h.start, g/1000, "kg", 100, s.fields,
				dr.q.Say(s.say, "mass", dr.q.GlanceMass(g), "holds", dr.q.GlanceMass(s.stream.capacity))))
		}
	}
	return out
}

// warnBrewers warns of beverages that a brewer is set up to make but cannot.
func (dr *draft) warnBrewers() (out []warning) {
	for _, m := range dr.misfits {
		w, b := &dr.req.Brewers[m.brewer], dr.name(m.bev)
		if !dr.inDemand(m.bev) {
			continue
		}
		s := about(w.Code + "|" + dr.req.Beverages[m.bev].Code)
		s.bev = m.bev
		brewer, bev := fmt.Sprintf("brewers.%d", m.brewer), fmt.Sprintf("beverages.%d", m.bev)
		switch {
		case m.never:
			out = append(out, dr.warning(s, models.WarnCoolingSlow, models.GradeActToday, dr.h.start, 0, "min", 100, []string{bev + ".cooling_ua_w_per_k", bev + ".bath_temp_c", bev + ".rest_temp_c"},
				dr.q.Say("warn.never_cold", "beverage", b, "brewer", w.Code)))
		case m.noTime && m.noSpan:
			s.reason = "span"
			out = append(out, dr.warning(s, models.WarnBrewerOverrun, models.GradeActToday, dr.h.start, w.BusyMin, "min", 100, []string{brewer + ".available", brewer + ".busy_min"},
				dr.q.Say("warn.no_span", "brewer", w.Code, "minutes", say.Number(w.BusyMin, 0), "beverage", b)))
		case m.noTime:
			s.reason = "time"
			fields := []string{brewer, bev + ".steep_h", "site.setup_min"}
			for i, o := range dr.req.Outages {
				if o.Kind == "brewer" && o.Code == w.Code {
					fields = append(fields, fmt.Sprintf("outages.%d", i))
				}
			}
			out = append(out, dr.warning(s, models.WarnBrewerOverrun, models.GradeNote, dr.h.start, w.BusyMin, "min", 100, fields, dr.q.Say("warn.no_moment", "brewer", w.Code, "beverage", b)))
		default:
			s.reason = "size"
			out = append(out, dr.warning(s, models.WarnBrewerOverrun, models.GradeActToday, dr.h.start, (m.lo-m.hi)/1000, "kg", 100,
				[]string{brewer + ".min_beverage_g", brewer + ".max_dose_g", brewer + ".max_water_g"},
				dr.q.Say("warn.no_size", "brewer", w.Code, "beverage", b, "smallest", dr.q.GlanceMass(m.lo), "most", dr.q.GlanceMass(m.hi))))
		}
	}
	return out
}

// inDemand reports whether there is demand for a beverage in these days.
func (bp *brewPlan) inDemand(bev int) bool { return models.Sum(bp.needs.meanG[bev]) > 0 }
