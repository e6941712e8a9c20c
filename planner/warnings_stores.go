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

// warnBeans says which coffee lacks on which day, and which rule keeps lots from use.
func (j *job) warnBeans() {
	for _, d := range j.beans {
		if d.day.LackG < 1 {
			continue
		}
		c := &j.req.Coffees[d.coffee]
		s := about(c.Code + "|" + string(d.date))
		s.coffee = d.coffee
		fields := []string{fmt.Sprintf("coffees.%d.lots", d.coffee)}
		why := j.q.Say("warn.no_beans")
		for i, x := range d.day.Shorts {
			text := ""
			switch x.Reason {
			case bean.TooYoung:
				text = j.q.Say("warn.lot_young", "lot", x.Lot, "day", j.calendarDay(x.Usable))
				fields = append(fields, fmt.Sprintf("coffees.%d.rest_days_min", d.coffee))
			case bean.TooOld:
				text = j.q.Say("warn.lot_old", "lot", x.Lot, "day", j.calendarDay(x.Usable))
				fields = append(fields, fmt.Sprintf("coffees.%d.rest_days_max", d.coffee))
			case bean.ThawLate:
				text = j.q.Say("warn.lot_frozen", "lot", x.Lot)
				fields = append(fields, fmt.Sprintf("coffees.%d.thaw_h", d.coffee))
			default:
				if i == 0 {
					continue
				}
				text = j.q.Say("warn.no_others")
			}
			if s.reason == "" {
				s.reason, why = string(x.Reason), text
			} else {
				why += j.q.Say("said.comma") + text
			}
		}
		j.warn(s, models.WarnBeansShort, "", d.day.Need.UseFrom, d.day.LackG, "g", 100, fields,
			j.q.Say("warn.beans_short", "at", j.when(d.day.Need.UseFrom), "mass", j.q.About(d.day.LackG), "coffee", c.Code, "need", j.q.About(d.day.TakeG), "why", why))
	}
}

// calendarDay writes the date that a time shows in its own zone.
func (j *job) calendarDay(t time.Time) string {
	return j.q.Day(models.DateOf(t, t.Location()).At(720, j.loc))
}

// warnWater says when the tank runs dry, and when the water does not fit.
func (j *job) warnWater() {
	first, lack := -1, 0.0
	for t, l := range j.water.lack {
		if l > 0.01 {
			lack += l
			if first < 0 {
				first = t
			}
		}
	}
	w := &j.req.Water
	if first >= 0 {
		fields := []string{"water.make_l_per_h", "water.tank_l", "water.opening_l"}
		key := "warn.tank"
		for i, o := range j.req.Outages {
			if o.Kind == "tank" {
				fields = append(fields, fmt.Sprintf("outages.%d", i))
				key = "warn.tank_out"
			}
		}
		j.warn(about("tank"), models.WarnWaterShort, "", j.h.at(first), lack, "L", 100, fields,
			j.q.Say(key, "at", j.when(j.h.at(first)), "volume", j.q.Volume(lack, 1), "tank", j.q.Volume(w.TankL, 0), "make", j.q.Volume(w.MakeLPerH, 0)))
	}
	j.warnFit()
}

func (j *job) warnFit() {
	if j.needs == nil || models.Sum(j.water.brew)+models.Sum(j.water.ice)+models.Sum(j.water.drink) <= 0 {
		return
	}
	d := j.water.dosing
	got := d.Resulting
	note := func(key string, amount float64, unit string, fields []string, cause string) {
		j.warn(about(key), models.WarnWaterUnsuitable, models.GradeNote, j.h.start, amount, unit, 100, fields, cause)
	}
	if !d.Reachable {
		note("target", got.Hardness(), "mg/L", []string{"water.source", "water.target", "water.salts"},
			j.q.Say("warn.salts", "hardness", say.Digits(got.Hardness(), 0), "hardness_target", say.Digits(j.req.Water.Target.HardnessMgLCaCO3, 0),
				"alkalinity", say.Digits(got.Alkalinity(), 0), "alkalinity_target", say.Digits(j.req.Water.Target.AlkalinityMgLCaCO3, 0)))
	}
	if d.ChargeOffMeq < -0.2 {
		note("charge", -d.ChargeOffMeq, "meq/L", []string{"water.source"}, j.q.Say("warn.ions", "off", say.Digits(-d.ChargeOffMeq, 1)))
	}
	if unfit := j.q.Unsuitable(got); len(unfit) > 0 {
		note("range", got.Hardness(), "mg/L", []string{"water.target", "water.source"}, j.q.Say("warn.water_range", "why", strings.Join(unfit, j.q.Say("said.semicolon"))))
	}
	for k, m := range j.req.Ice.Makers {
		if soft := got.Times(m.MineralShare); m.Treated && m.MineralShare < 0.5 && soft.CalciumHardness() < water.CalciumLow {
			note("ice "+m.Code, soft.Hardness(), "mg/L", []string{fmt.Sprintf("ice.makers.%d.mineral_share", k)},
				j.q.Say("warn.soft_ice", "maker", m.Code, "share", say.Digits(m.MineralShare*100, 0), "hardness", say.Digits(soft.Hardness(), 0)))
		}
	}
}

// warnStore says what is thrown away before the plan begins.
func (j *job) warnStore() {
	surplus := 0.0
	fields := []string{"site.store_g"}
	for _, t := range j.thrown {
		if t.expired {
			s := about(fmt.Sprintf("stock %d", t.row))
			s.bev = t.bev
			j.warn(s, models.WarnHoldTooLong, models.GradeActNow, j.h.start, t.g/1000, "kg", 100,
				[]string{fmt.Sprintf("stock.%d.made_at", t.row), fmt.Sprintf("beverages.%d.hold_h", t.bev)},
				j.q.Say("warn.expired", "mass", j.q.About(t.g), "beverage", j.name(t.bev), "until", j.when(t.until)))
			continue
		}
		surplus += t.g
		if t.row >= 0 {
			fields = append(fields, fmt.Sprintf("stock.%d.g", t.row))
		}
	}
	if surplus >= 1 {
		j.warn(about("opening"), models.WarnColdStoreFull, models.GradeActNow, j.h.start, surplus/1000, "kg", 100, fields,
			j.q.Say("warn.store_full", "mass", j.q.About(surplus), "holds", j.q.About(j.req.Site.StoreG)))
	}
	for _, s := range []struct {
		stream *iceStream
		key    string
		fields []string
		say    string
	}{{j.drink, "ice", []string{"ice.opening_g", "ice.bin_g"}, "warn.ice_full"}, {j.plain, "plain ice", []string{"ice.plain.opening_g", "ice.plain.bin_g"}, "warn.plain_full"}} {
		if g := s.stream.thrownG; g >= 1 {
			j.warn(about(s.key), models.WarnColdStoreFull, models.GradeActNow, j.h.start, g/1000, "kg", 100, s.fields,
				j.q.Say(s.say, "mass", j.q.About(g), "holds", j.q.About(s.stream.capacity)))
		}
	}
}

// warnBrewers says which recipes a brewer is said to make and cannot.
func (j *job) warnBrewers() {
	for _, m := range j.misfits {
		w, b := &j.req.Brewers[m.brewer], j.name(m.bev)
		if !j.wanted(m.bev) {
			continue
		}
		s := about(w.Code + "|" + j.req.Beverages[m.bev].Code)
		s.bev = m.bev
		brewer, bev := fmt.Sprintf("brewers.%d", m.brewer), fmt.Sprintf("beverages.%d", m.bev)
		switch {
		case m.never:
			j.warn(s, models.WarnCoolingSlow, models.GradeActToday, j.h.start, 0, "min", 100, []string{bev + ".cooling_ua_w_per_k", bev + ".bath_temp_c", bev + ".rest_temp_c"},
				j.q.Say("warn.never_cold", "beverage", b, "brewer", w.Code))
		case m.noTime && m.noSpan:
			s.reason = "span"
			j.warn(s, models.WarnBrewerOverrun, models.GradeActToday, j.h.start, w.BusyMin, "min", 100, []string{brewer + ".available", brewer + ".busy_min"},
				j.q.Say("warn.no_span", "brewer", w.Code, "minutes", say.Digits(w.BusyMin, 0), "beverage", b))
		case m.noTime:
			s.reason = "time"
			fields := []string{brewer, bev + ".steep_h", "site.setup_min"}
			for i, o := range j.req.Outages {
				if o.Kind == "brewer" && o.Code == w.Code {
					fields = append(fields, fmt.Sprintf("outages.%d", i))
				}
			}
			j.warn(s, models.WarnBrewerOverrun, models.GradeNote, j.h.start, w.BusyMin, "min", 100, fields, j.q.Say("warn.no_moment", "brewer", w.Code, "beverage", b))
		default:
			s.reason = "size"
			j.warn(s, models.WarnBrewerOverrun, models.GradeActToday, j.h.start, (m.lo-m.hi)/1000, "kg", 100,
				[]string{brewer + ".min_beverage_g", brewer + ".max_dose_g", brewer + ".max_water_g"},
				j.q.Say("warn.no_size", "brewer", w.Code, "beverage", b, "smallest", j.q.About(m.lo), "most", j.q.About(m.hi)))
		}
	}
}

// wanted reports whether a beverage is asked for in these days.
func (j *job) wanted(bev int) bool { return models.Sum(j.needs.meanG[bev]) > 0 }
