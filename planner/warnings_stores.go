package planner

import (
	"fmt"
	"strings"

	"hotday/models"
	"hotday/planner/bean"
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
		why := "there are no more beans of it"
		for i, x := range d.day.Shorts {
			text := ""
			switch x.Reason {
			case bean.TooYoung:
				text = fmt.Sprintf("lot %s has rested too little until %s", x.Lot, x.Usable.Format("Monday 2 January"))
				fields = append(fields, fmt.Sprintf("coffees.%d.rest_days_min", d.coffee))
			case bean.TooOld:
				text = fmt.Sprintf("lot %s was good until %s", x.Lot, x.Usable.Format("Monday 2 January"))
				fields = append(fields, fmt.Sprintf("coffees.%d.rest_days_max", d.coffee))
			case bean.ThawLate:
				text = fmt.Sprintf("lot %s cannot thaw in time", x.Lot)
				fields = append(fields, fmt.Sprintf("coffees.%d.thaw_h", d.coffee))
			default:
				if i == 0 {
					continue
				}
				text = "and there are no others"
			}
			if s.reason == "" {
				s.reason, why = string(x.Reason), text
			} else {
				why += ", " + text
			}
		}
		j.warn(s, models.WarnBeansShort, "", d.day.Need.UseFrom, d.day.LackG, "g", 100, fields,
			"%s, %s of %s short of %s needed on the day: %s.", j.when(d.day.Need.UseFrom), kg(d.day.LackG), c.Code, kg(d.day.TakeG), why)
	}
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
		why := fmt.Sprintf("the tank holds %.0f L and the treatment makes %.0f L an hour", w.TankL, w.MakeLPerH)
		for i, o := range j.req.Outages {
			if o.Kind == "tank" {
				fields = append(fields, fmt.Sprintf("outages.%d", i))
				why += ", and the tank is out for a part of the time"
			}
		}
		j.warn(about("tank"), models.WarnWaterShort, "", j.h.at(first), lack, "L", 100, fields,
			"%s, the tank of treated water is empty, %.1f L short from then on: %s.", j.when(j.h.at(first)), lack, why)
	}
	j.warnFit()
}

func (j *job) warnFit() {
	if j.needs == nil || total(j.water.brew)+total(j.water.ice)+total(j.water.drink) <= 0 {
		return
	}
	d := j.water.dosing
	got := d.Resulting
	note := func(key string, amount float64, unit string, fields []string, format string, args ...any) {
		j.warn(about(key), models.WarnWaterUnsuitable, models.GradeNote, j.h.start, amount, unit, 100, fields, format, args...)
	}
	if !d.Reachable {
		note("target", got.Hardness(), "mg/L", []string{"water.source", "water.target", "water.salts"},
			"The salts on hand do not bring this source to the target: hardness comes to %.0f of %.0f mg/L and alkalinity to %.0f of %.0f mg/L as CaCO3.",
			got.Hardness(), j.req.Water.Target.HardnessMgLCaCO3, got.Alkalinity(), j.req.Water.Target.AlkalinityMgLCaCO3)
	}
	if d.ChargeOffMeq < -0.2 {
		note("charge", -d.ChargeOffMeq, "meq/L", []string{"water.source"}, "The ions of the source do not balance, %.1f meq/L too many anions: the analysis has a mistake in it.", -d.ChargeOffMeq)
	}
	if unfit := water.Unsuitable(got); len(unfit) > 0 {
		note("range", got.Hardness(), "mg/L", []string{"water.target", "water.source"}, "The dosed water is outside the usual range for brewing: %s.", strings.Join(unfit, "; "))
	}
	for k, m := range j.req.Ice.Makers {
		if soft := got.Times(m.MineralShare); m.Treated && m.MineralShare < 0.5 && soft.CalciumHardness() < water.CalciumLow {
			note("ice "+m.Code, soft.Hardness(), "mg/L", []string{fmt.Sprintf("ice.makers.%d.mineral_share", k)},
				"Ice of %s keeps %.0f %% of the minerals: what melts in the drink is water of %.0f mg/L hardness as CaCO3, softer than what is brewed with.", m.Code, m.MineralShare*100, soft.Hardness())
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
				"%s of %s on hand is past its time, %s: throw it away, it is not counted on.", kg(t.g), j.name(t.bev), j.when(t.until))
			continue
		}
		surplus += t.g
		if t.row >= 0 {
			fields = append(fields, fmt.Sprintf("stock.%d.g", t.row))
		}
	}
	if surplus >= 1 {
		j.warn(about("opening"), models.WarnColdStoreFull, models.GradeActNow, j.h.start, surplus/1000, "kg", 100, fields,
			"%s of beverage on hand does not fit the cold store, which holds %s: throw away what expires first.", kg(surplus), kg(j.req.Site.StoreG))
	}
	for _, s := range []struct {
		stream *iceStream
		key    string
		fields []string
		word   string
	}{{j.drink, "ice", []string{"ice.opening_g", "ice.bin_g"}, "drink ice"}, {j.plain, "plain ice", []string{"ice.plain.opening_g", "ice.plain.bin_g"}, "plain ice"}} {
		if g := s.stream.thrownG; g >= 1 {
			j.warn(about(s.key), models.WarnColdStoreFull, models.GradeActNow, j.h.start, g/1000, "kg", 100, s.fields,
				"%s of %s does not fit the bin, which holds %s: it is not counted on.", kg(g), s.word, kg(s.stream.capacity))
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
				"A batch of %s from %s would not be cold in any useful time: it is not planned.", b, w.Code)
		case m.noTime && m.noSpan:
			s.reason = "span"
			j.warn(s, models.WarnBrewerOverrun, models.GradeActToday, j.h.start, w.BusyMin, "min", 100, []string{brewer + ".available", brewer + ".busy_min"},
				"%s is busy %.0f min with a batch, longer than any span in which it is available: it makes no %s.", w.Code, w.BusyMin, b)
		case m.noTime:
			s.reason = "time"
			fields := []string{brewer, bev + ".steep_h", "site.setup_min"}
			why := "people, steeping and outages leave no moment to start it"
			for i, o := range j.req.Outages {
				if o.Kind == "brewer" && o.Code == w.Code {
					fields = append(fields, fmt.Sprintf("outages.%d", i))
				}
			}
			j.warn(s, models.WarnBrewerOverrun, models.GradeNote, j.h.start, w.BusyMin, "min", 100, fields, "%s makes no %s in these days: %s.", w.Code, b, why)
		default:
			s.reason = "size"
			j.warn(s, models.WarnBrewerOverrun, models.GradeActToday, j.h.start, (m.lo-m.hi)/1000, "kg", 100,
				[]string{brewer + ".min_beverage_g", brewer + ".max_dose_g", brewer + ".max_water_g"},
				"%s cannot make %s: its smallest batch is %s, and basket and vessel hold no more than %s of this recipe.", w.Code, b, kg(m.lo), kg(m.hi))
		}
	}
}

// wanted reports whether a beverage is asked for in these days.
func (j *job) wanted(bev int) bool { return total(j.needs.meanG[bev]) > 0 }
