package planner

import (
	"fmt"
	"math"
	"time"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/say"
)

// The default rule of cooling and cold holding, as the calculations apply it.
var (
	coldC     = chill.SafeStoreC
	coolC     = chill.DefaultCooling.MiddleC
	warmC     = chill.DefaultCooling.HotC
	toCoolMin = chill.DefaultCooling.FirstMin
	toColdMin = chill.DefaultCooling.FirstMin + chill.DefaultCooling.SecondMin // from warmC
)

// longHoldH is the longest hold that is not told to be lax, h: the default for a new site.
const longHoldH = 24.0

const (
	strengthOff        = 0.10 // points of TDS
	lowYield           = 16.0 // outside the usual chart by more than the model's error
	highYield          = 23.0
	slackC             = 0.05
	staleCountH        = 12.0
	staleForecastH     = 36.0
	silentAfter        = time.Hour
	precoolNearTargetK = 0.5
)

func (j *job) warnRecipes() {
	for i, rc := range j.recipes {
		if !j.wanted(i) {
			continue
		}
		j.warnTarget(i, rc)
		j.warnStrength(i, rc)
		j.warnCooling(i, rc)
		b := rc.bev
		field := fmt.Sprintf("beverages.%d", i)
		s := about(b.Code)
		s.bev = i
		if b.HoldH > j.req.Site.MaxHoldH {
			j.warn(s, models.WarnHoldTooLong, models.GradeNote, j.h.start, b.HoldH-j.req.Site.MaxHoldH, "h", 100, []string{field + ".hold_h", "site.max_hold_h"},
				j.q.Say("warn.hold_site", "beverage", j.name(i), "hold", say.Digits(b.HoldH, 0), "site", say.Digits(j.req.Site.MaxHoldH, 0)))
		}
		if b.Method == models.Steeped && b.SteepTempC > coldC {
			j.warn(s, models.WarnSteepWarm, models.GradeActToday, j.h.start, b.SteepTempC-coldC, "°C", 100, []string{field + ".steep_temp_c"},
				j.q.Say("warn.steep_warm", "beverage", j.name(i), "hours", say.Digits(*b.SteepH, 0), "temp", j.q.Degrees(b.SteepTempC, 0), "cold", j.q.Degrees(coldC, 0)))
		}
	}
}

// warnTarget says which recipe does not get cold, with the nearest that does.
func (j *job) warnTarget(i int, rc *recipe) {
	b := rc.bev
	over := rc.after.FinalC - b.TargetTempC
	if rc.reaches || over <= slackC {
		return
	}
	dose := j.typicalDose(i)
	brewed, iceG := rc.brewedG(dose), rc.unit.IceG*dose
	from := rc.restC
	if rc.coolToC != nil {
		from = *rc.coolToC
	}
	field := fmt.Sprintf("beverages.%d", i)
	fields := []string{field + ".target_temp_c", field + ".ice_share", field + ".rest_temp_c", field + ".bath"}
	s := about(b.Code)
	s.bev = i
	key, more := "warn.target_store", 0.0
	switch {
	case iceG > 0:
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		iceNeeded, ok := mix.IceFor(b.TargetTempC)
		switch {
		case rc.needC > b.TargetTempC+precoolNearTargetK && ok:
			key, more = "warn.target_ice_cool", math.Ceil(iceNeeded)
		case ok:
			key, more = "warn.target_ice_more", math.Ceil(iceNeeded)
		default:
			key = "warn.target_ice_never"
		}
	case rc.bev.Bath:
		key = "warn.target_bath"
		fields = append(fields, field+".bath_temp_c")
	case b.Method == models.Flash:
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		key = "warn.target_hot"
		if g, ok := mix.IceFor(b.TargetTempC); ok {
			key, more = "warn.target_hot_ice", math.Ceil(g)
		}
	default:
		fields = append(fields, "site.store_temp_c")
	}
	at := j.firstBatch(i)
	j.warn(s, models.WarnTargetTemp, models.GradeActToday, at, over, "°C", 100, fields,
		j.q.Say(key, "beverage", j.name(i), "ice", j.q.Weighed(iceG), "brewed", j.q.Weighed(brewed), "more", j.q.Weighed(more), "from", j.q.Degrees(from, 0), "target", j.q.Degrees(b.TargetTempC, 0),
			"final", j.q.Degrees(rc.after.FinalC, 0), "need", j.q.Degrees(math.Floor(rc.needC), 0), "bath", j.q.Degrees(b.BathTempC, 0), "store", j.q.Degrees(j.req.Site.StoreTempC, 0)))
}

// typicalDose is the coffee of a beverage's first batch, or of the largest that a brewer makes, else 20 g.
func (j *job) typicalDose(bev int) float64 {
	for i := range j.batches {
		if j.options[j.batches[i].option].bev == bev {
			return j.batches[i].doseG
		}
	}
	for k := range j.options {
		if j.options[k].bev == bev {
			return j.recipes[bev].doseFor(j.options[k].hi)
		}
	}
	return 20
}

func (j *job) firstBatch(bev int) time.Time {
	for i := range j.batches {
		if j.options[j.batches[i].option].bev == bev {
			return j.h.at(j.batches[i].slot)
		}
	}
	return j.h.start
}

func (j *job) warnStrength(i int, rc *recipe) {
	b, field := rc.bev, fmt.Sprintf("beverages.%d", i)
	s := about(b.Code)
	s.bev = i
	if off := rc.tds() - b.TargetTDSPct; math.Abs(off) > strengthOff {
		key := "warn.stronger"
		if off < 0 {
			key = "warn.weaker"
		}
		j.warn(s, models.WarnStrengthOff, models.GradeNote, j.firstBatch(i), math.Abs(off), "% TDS", 100, []string{field + ".target_tds_pct", field + ".ratio"},
			j.q.Say(key, "beverage", j.name(i), "tds", say.Digits(rc.tds(), 2), "off", say.Digits(math.Abs(off), 2), "target", say.Digits(b.TargetTDSPct, 2)))
	}
	brewed := b.Ratio * (1 - b.IceShare)
	yield := rc.ext.YieldPct
	doubt := brew.Doubtful(b.Method == models.Steeped, brewed)
	if doubt || yield < lowYield || yield > highYield {
		key := "warn.yield"
		if doubt {
			key = "warn.poured"
		}
		j.warn(s, models.WarnYieldDoubtful, models.GradeNote, j.firstBatch(i), yield, "%", 100, []string{field + ".ratio", field + ".ice_share", field + ".max_yield_pct"},
			j.q.Say(key, "beverage", j.name(i), "yield", say.Digits(yield, 1), "ratio", say.Digits(brewed, 1), "from", say.Digits(brew.GoodFromRatio, 0), "to", say.Digits(brew.GoodToRatio, 0)))
	}
	if rc.boils {
		s := about(b.Code + " boils")
		s.bev = i
		j.warn(s, models.WarnYieldDoubtful, models.GradeNote, j.firstBatch(i), b.BrewerOutTempC-rc.outC, "°C", 100, []string{field + ".brewer_out_temp_c", "site.altitude_m"},
			j.q.Say("warn.boils", "beverage", j.name(i), "temp", j.q.Degrees(b.BrewerOutTempC, 0), "boils", j.q.Degrees(rc.outC, 1), "height", j.q.Height(j.req.Site.AltitudeM)))
	}
}

// warnCooling follows the largest batch from 57 °C down.
func (j *job) warnCooling(i int, rc *recipe) {
	b, field := rc.bev, fmt.Sprintf("beverages.%d", i)
	if b.Method == models.Steeped && rc.outC <= coolC {
		return
	}
	dose := 0.0
	for k := range j.options {
		if j.options[k].bev == i {
			dose = max(dose, rc.doseFor(j.options[k].hi))
		}
	}
	if dose <= 0 {
		return
	}
	toCool, toCold := rc.coolTimes(dose, j.req.Site.StoreTempC)
	s := about(b.Code)
	s.bev = i
	fields := []string{field + ".cooling_ua_w_per_k", field + ".bath", field + ".target_temp_c", "site.store_temp_c"}
	switch {
	case toCool > toCoolMin:
		j.warn(s, models.WarnCoolingSlow, models.GradeActToday, j.firstBatch(i), orZero(toCool-toCoolMin), "min", 100, fields,
			j.q.Say("warn.cooling_first", "beverage", j.name(i), "time", j.q.Minutes(toCool), "warm", j.q.Degrees(warmC, 0), "cool", j.q.Degrees(coolC, 0)))
	case toCold > toColdMin:
		j.warn(s, models.WarnCoolingSlow, models.GradeNote, j.firstBatch(i), orZero(toCold-toColdMin), "min", 100, fields,
			j.q.Say("warn.cooling_second", "beverage", j.name(i), "final", j.q.Degrees(rc.after.FinalC, 1), "time", j.q.Minutes(toCold), "cold", j.q.Degrees(coldC, 0), "warm", j.q.Degrees(warmC, 0)))
	}
}

// coolTimes are the minutes of a batch of doseG g from 57 °C to 21 °C and to 5 °C. Steps whose speed is not known count
// nothing; ice works at once; what is stored above 5 °C goes on cooling in the store.
func (r *recipe) coolTimes(doseG, storeC float64) (toCool, toCold float64) {
	mass := r.brewedG(doseG)
	at := r.outC
	phase := func(to, ambient float64) {
		if to >= at {
			return
		}
		if r.bev.CoolingUAWPerK != nil {
			step := func(limit float64) float64 {
				return chill.CoolingMinutes(mass, min(at, warmC), ambient, *r.bev.CoolingUAWPerK, max(to, limit))
			}
			toCool += step(coolC)
			toCold += step(coldC)
		}
		at = to
	}
	phase(r.restC, r.restAmbientC())
	if r.coolToC != nil {
		phase(*r.coolToC, r.ambientC)
	}
	at = min(at, r.after.FinalC)
	mass = r.brew.FinishedPerDose() * doseG
	if at > coldC+slackC {
		if storeC >= coldC {
			toCold = math.Inf(1)
			if at > coolC {
				toCool += unknownIfNoUA(r, mass, at, storeC, coolC)
			}
		} else {
			toCool += unknownIfNoUA(r, mass, at, storeC, coolC)
			toCold += unknownIfNoUA(r, mass, at, storeC, coldC)
		}
	}
	return toCool, toCold
}

func unknownIfNoUA(r *recipe, mass, from, ambient, to float64) float64 {
	if r.bev.CoolingUAWPerK == nil || from <= to {
		return 0
	}
	return chill.CoolingMinutes(mass, min(from, warmC), ambient, *r.bev.CoolingUAWPerK, to)
}

func orZero(x float64) float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return 0
	}
	return x
}

// warnLimits says which settings are laxer than the default food code.
func (j *job) warnLimits() {
	site := &j.req.Site
	if site.StoreTempC > coldC {
		j.warn(about("store"), models.WarnLimitLax, models.GradeActToday, j.h.start, site.StoreTempC-coldC, "°C", 100, []string{"site.store_temp_c"},
			j.q.Say("warn.store_warm", "temp", j.q.Degrees(site.StoreTempC, 1), "cold", j.q.Degrees(coldC, 0)))
	}
	if site.MaxHoldH > longHoldH {
		j.warn(about("hold"), models.WarnLimitLax, models.GradeNote, j.h.start, site.MaxHoldH-longHoldH, "h", 100, []string{"site.max_hold_h"},
			j.q.Say("warn.hold_lax", "hours", say.Digits(site.MaxHoldH, 0), "default", say.Digits(longHoldH, 0)))
	}
}

// warnKnowledge says what the plan knows only from long ago, or not at all.
func (j *job) warnKnowledge() {
	r := j.req
	old := func(key, field string, at *time.Time, text string) {
		if at == nil {
			return
		}
		if h := j.h.start.Sub(*at).Hours(); h > staleCountH {
			j.warn(about(key), models.WarnStockCountOld, models.GradeActToday, j.h.start, h, "h", 100, []string{field},
				j.q.Say(text, "hours", say.Digits(h, 0), "at", j.when(*at)))
		}
	}
	old("drink ice", "ice.counted_at", r.Ice.CountedAt, "warn.drink_ice_old")
	old("plain ice", "ice.plain.counted_at", r.Ice.Plain.CountedAt, "warn.plain_ice_old")
	if j.airGaps > 0 {
		at := j.h.start
		j.warn(about("weather gaps"), models.WarnForecastOld, models.GradeNote, at, float64(j.airGaps), "h", 100, []string{"weather"},
			j.q.Say("warn.weather_gaps", "n", j.airGaps, "temp", j.q.Degrees(models.UnknownHottestC, 0)))
	}
	if r.WeatherIssuedAt != nil {
		if h := j.h.start.Sub(*r.WeatherIssuedAt).Hours(); h > staleForecastH {
			j.warn(about("weather age"), models.WarnForecastOld, models.GradeNote, j.h.start, h, "h", 100, []string{"weather_issued_at"},
				j.q.Say("warn.weather_old", "hours", say.Digits(h, 0)))
		}
	}
	j.warnSilent()
}

// warnSilent says that the sales have gone quiet while the shop is open.
func (j *job) warnSilent() {
	var last time.Time
	for _, s := range j.req.Sold {
		if s.Until.After(last) {
			last = s.Until
		}
	}
	quiet := j.h.start.Sub(last)
	if last.IsZero() || quiet <= silentAfter {
		return
	}
	for _, o := range j.h.open {
		if o.Contains(j.h.start) && j.h.start.Sub(o.From) > silentAfter && last.After(o.From) {
			j.warn(about("sales"), models.WarnSalesSilent, models.GradeActNow, j.h.start, quiet.Minutes(), "min", 100, []string{"sold"},
				j.q.Say("warn.silent", "at", j.when(last), "minutes", say.Digits(quiet.Minutes(), 0)))
		}
	}
}
