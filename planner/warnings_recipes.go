package planner

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/say"
)

const (
	strengthOff        = 0.10 // points of TDS
	lowYield           = 16.0 // outside the usual range by more than the model's error
	highYield          = 23.0
	slackC             = 0.05
	staleForecastH     = 36.0
	precoolNearTargetK = 0.5
)

// Ages from which a count of ice, and the last sales counts of an open shop, are warned about.
const (
	CountOldAfter = 12 * time.Hour
	SilentAfter   = time.Hour
)

func (dr *draft) warnRecipes() (out []warning) {
	for i, rc := range dr.recipes {
		if !dr.inDemand(i) && !dr.brewed(i) {
			continue
		}
		out = slices.Concat(out, dr.warnTarget(i, rc), dr.warnStrength(i, rc), dr.warnFoodSafety(i, rc))
		b := rc.bev
		field := fmt.Sprintf("beverages.%d", i)
		s := about(b.Code)
		s.bev = i
		if b.HoldH > dr.req.Site.MaxHoldH {
			out = append(out, dr.warning(s, models.WarnHoldTooLong, models.GradeNote, dr.h.start, b.HoldH-dr.req.Site.MaxHoldH, "h", 100, []string{field + ".hold_h", "site.max_hold_h"},
				dr.q.Say("warn.hold_site", "beverage", dr.name(i), "hold", say.Number(b.HoldH, 0), "site", say.Number(dr.req.Site.MaxHoldH, 0))))
		}
	}
	return out
}

// brewed reports whether batches of a beverage are planned.
func (bp *brewPlan) brewed(bev int) bool {
	return slices.ContainsFunc(bp.batches, func(p planned) bool { return bp.options[p.option].bev == bev })
}

// warnTarget warns of a recipe that does not reach its target temperature, with the closest that does.
func (dr *draft) warnTarget(i int, rc *recipe) (out []warning) {
	b := rc.bev
	over := rc.after.FinalC - b.TargetTempC
	if rc.reaches || over <= slackC {
		return out
	}
	dose := dr.typicalDose(i)
	brewed, iceG := rc.brewedG(dose), rc.unit.IceG*dose
	from := rc.restC
	if rc.coolToC != nil {
		from = *rc.coolToC
	}
	field := fmt.Sprintf("beverages.%d", i)
	fields := []string{field + ".target_temp_c", field + ".ice_share", field + ".rest_temp_c", field + ".bath"}
	s := about(b.Code)
	s.bev = i
	key, fix, or := "warn.target_store", "", ""
	switch {
	case iceG > 0:
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		iceNeeded, ok := mix.IceFor(b.TargetTempC)
		key = "warn.target_ice"
		need, more := dr.q.Temp(math.Floor(rc.needC)), dr.q.ExactMass(math.Ceil(iceNeeded))
		switch {
		case rc.needC > b.TargetTempC+precoolNearTargetK && ok:
			fix = dr.q.Say("warn.target_ice_cool", "need", need, "more", more)
		case ok:
			fix = dr.q.Say("warn.target_ice_more", "more", more)
		default:
			fix = dr.q.Say("warn.target_ice_never")
		}
	case rc.bev.Bath:
		key = "warn.target_bath"
		fields = append(fields, field+".bath_temp_c")
	case b.Method == models.Flash:
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		key = "warn.target_hot"
		if g, ok := mix.IceFor(b.TargetTempC); ok {
			or = dr.q.Say("warn.target_hot_ice", "more", dr.q.ExactMass(math.Ceil(g)), "brewed", dr.q.ExactMass(brewed))
		}
	default:
		fields = append(fields, "site.store_temp_c")
	}
	at := dr.firstBatch(i)
	out = append(out, dr.warning(s, models.WarnTargetTemp, models.GradeActToday, at, over, "°C", 100, fields,
		dr.q.Say(key, "beverage", dr.name(i), "ice", dr.q.ExactMass(iceG), "brewed", dr.q.ExactMass(brewed), "fix", fix, "or", or, "from", dr.q.Temp(from), "target", dr.q.Temp(b.TargetTempC),
			"final", dr.q.Temp(rc.after.FinalC), "bath", dr.q.Temp(b.BathTempC), "store", dr.q.Temp(dr.req.Site.StoreTempC))))
	return out
}

// typicalDose returns the coffee in a beverage's first batch, or in the largest that a brewer makes, else 20 g.
func (bp *brewPlan) typicalDose(bev int) float64 {
	for i := range bp.batches {
		if bp.options[bp.batches[i].option].bev == bev {
			return bp.batches[i].doseG
		}
	}
	for k := range bp.options {
		if bp.options[k].bev == bev {
			return bp.recipes[bev].doseFor(bp.options[k].hi)
		}
	}
	return 20
}

func (bp *brewPlan) firstBatch(bev int) time.Time {
	for i := range bp.batches {
		if bp.options[bp.batches[i].option].bev == bev {
			return bp.h.at(bp.batches[i].slot)
		}
	}
	return bp.h.start
}

func (dr *draft) warnStrength(i int, rc *recipe) (out []warning) {
	b, field := rc.bev, fmt.Sprintf("beverages.%d", i)
	s := about(b.Code)
	s.bev = i
	if off := rc.tds() - b.TargetTDSPct; math.Abs(off) > strengthOff {
		out = append(out, dr.warning(s, models.WarnStrengthOff, models.GradeNote, dr.firstBatch(i), math.Abs(off), "% TDS", 100, []string{field + ".target_tds_pct", field + ".ratio"},
			dr.q.Say("warn.strength", "beverage", dr.name(i), "tds", dr.q.Number(rc.tds(), 2), "target", dr.q.Number(b.TargetTDSPct, 2))))
	}
	brewed := b.Ratio * (1 - b.IceShare)
	yield := rc.ext.YieldPct
	doubt := brew.Doubtful(b.Method == models.Steeped, brewed)
	low, high := lowYield, highYield
	if b.Method == models.Steeped {
		low, high = brew.ColdYieldLow, brew.ColdYieldHigh
	}
	if doubt || yield < low || yield > high {
		key := "warn.yield"
		if doubt {
			key = "warn.poured"
		}
		out = append(out, dr.warning(s, models.WarnYieldDoubtful, models.GradeNote, dr.firstBatch(i), yield, "%", 100, []string{field + ".ratio", field + ".ice_share", field + ".max_yield_pct"},
			dr.q.Say(key, "beverage", dr.name(i), "yield", dr.q.Number(yield, 1), "ratio", dr.q.Number(brewed, 1), "from", say.Number(brew.GoodFromRatio, 0), "to", say.Number(brew.GoodToRatio, 0))))
	}
	if rc.boils {
		s := about(b.Code + " boils")
		s.bev = i
		out = append(out, dr.warning(s, models.WarnYieldDoubtful, models.GradeNote, dr.firstBatch(i), b.BrewerOutTempC-rc.outC, "°C", 100, []string{field + ".brewer_out_temp_c", "site.altitude_m"},
			dr.q.Say("warn.boils", "beverage", dr.name(i), "temp", dr.q.Temp(b.BrewerOutTempC), "boils", dr.q.Temp(rc.outC), "height", dr.q.Height(dr.req.Site.AltitudeM))))
	}
	return out
}

// warnKnowledge warns of old counts and forecasts, missing weather, and a silent till.
func (dr *draft) warnKnowledge() (out []warning) {
	r := dr.req
	old := func(key, field string, at *time.Time, text string) {
		if at == nil {
			return
		}
		if h := dr.h.start.Sub(*at).Hours(); h > CountOldAfter.Hours() {
			out = append(out, dr.warning(about(key), models.WarnStockCountOld, models.GradeActToday, dr.h.start, h, "h", 100, []string{field},
				dr.q.Say(text, "hours", say.Number(h, 0), "at", dr.when(*at))))
		}
	}
	old("drink ice", "ice.counted_at", r.Ice.CountedAt, "warn.drink_ice_old")
	old("plain ice", "ice.plain.counted_at", r.Ice.Plain.CountedAt, "warn.plain_ice_old")
	if dr.airGaps > 0 {
		at := dr.h.start
		out = append(out, dr.warning(about("weather gaps"), models.WarnForecastOld, models.GradeNote, at, float64(dr.airGaps), "h", 100, []string{"weather"},
			dr.q.Say("warn.weather_gaps", "n", dr.airGaps)))
	}
	if r.WeatherIssuedAt != nil {
		if h := dr.h.start.Sub(*r.WeatherIssuedAt).Hours(); h > staleForecastH {
			out = append(out, dr.warning(about("weather age"), models.WarnForecastOld, models.GradeNote, dr.h.start, h, "h", 100, []string{"weather_issued_at"},
				dr.q.Say("warn.weather_old", "hours", say.Number(h, 0))))
		}
	}
	return append(out, dr.warnSilent()...)
}

// warnSilent warns if the till has sent nothing for a while although the shop is open.
func (st *setting) warnSilent() (out []warning) {
	var last time.Time
	for _, s := range st.req.Sold {
		if s.Until.After(last) {
			last = s.Until
		}
	}
	quiet := st.h.start.Sub(last)
	if last.IsZero() || quiet <= SilentAfter {
		return out
	}
	for _, o := range st.h.open {
		if o.Contains(st.h.start) && st.h.start.Sub(o.From) > SilentAfter && last.After(o.From) {
			out = append(out, st.warning(about("sales"), models.WarnSalesSilent, models.GradeActNow, st.h.start, quiet.Minutes(), "min", 100, []string{"sold"},
				st.q.Say("warn.silent", "at", st.when(last), "minutes", say.Number(quiet.Minutes(), 0))))
		}
	}
	return out
}
