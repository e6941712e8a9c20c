package planner

import (
	"fmt"
	"math"
	"time"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
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
				"%s says it holds %.0f h; the site allows %.0f h, and so does the plan.", j.name(i), b.HoldH, j.req.Site.MaxHoldH)
		}
		if b.Method == models.Steeped && b.SteepTempC > coldC {
			j.warn(s, models.WarnSteepWarm, models.GradeActToday, j.h.start, b.SteepTempC-coldC, "°C", 100, []string{field + ".steep_temp_c"},
				"%s steeps %.0f h at %.0f °C: steeped coffee is low in acid, steep it at %.0f °C or colder unless the local food code allows otherwise.",
				j.name(i), *b.SteepH, b.SteepTempC, coldC)
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
	var text string
	switch {
	case iceG > 0:
		text = fmt.Sprintf("%.0f g of ice cannot bring %.0f g from %.0f °C to %.0f °C, it ends at %.0f °C: ", iceG, brewed, from, b.TargetTempC, rc.after.FinalC)
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		iceNeeded, ok := mix.IceFor(b.TargetTempC)
		switch {
		case rc.needC > b.TargetTempC+precoolNearTargetK && ok:
			text += fmt.Sprintf("let it cool to %.0f °C first, or stir in %.0f g", math.Floor(rc.needC), math.Ceil(iceNeeded))
		case ok:
			text += fmt.Sprintf("stir in %.0f g", math.Ceil(iceNeeded))
		default:
			text += "no amount of this ice does it, set a warmer target"
		}
	case rc.bev.Bath:
		text = fmt.Sprintf("%s comes no nearer to %.0f °C than %.0f °C in a bath of %.0f °C: make the bath colder or the target warmer", j.name(i), b.TargetTempC, rc.after.FinalC, b.BathTempC)
		fields = append(fields, field+".bath_temp_c")
	case b.Method == models.Flash:
		mix := chill.Mix{BeverageG: brewed, BeverageC: from, IceC: rc.iceC, WetShare: rc.wetShare}
		text = fmt.Sprintf("%s leaves the brewer at %.0f °C and nothing cools it to %.0f °C: cool it in a bath", j.name(i), from, b.TargetTempC)
		if g, ok := mix.IceFor(b.TargetTempC); ok {
			text += fmt.Sprintf(", or stir %.0f g of ice into %.0f g", math.Ceil(g), brewed)
		}
	default:
		text = fmt.Sprintf("%s comes to %.0f °C in a store of %.0f °C, not to %.0f °C: make the store colder, cool it in a bath, or set a warmer target", j.name(i), rc.after.FinalC, j.req.Site.StoreTempC, b.TargetTempC)
		fields = append(fields, "site.store_temp_c")
	}
	at := j.firstBatch(i)
	j.warn(s, models.WarnTargetTemp, models.GradeActToday, at, over, "°C", 100, fields, "%s.", text)
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
		word := "stronger"
		if off < 0 {
			word = "weaker"
		}
		j.warn(s, models.WarnStrengthOff, models.GradeNote, j.firstBatch(i), math.Abs(off), "% TDS", 100, []string{field + ".target_tds_pct", field + ".ratio"},
			"%s is modelled at %.2f %% strength, %.2f points %s than its target of %.2f %%: measure a batch, then change ratio or target.", j.name(i), rc.tds(), math.Abs(off), word, b.TargetTDSPct)
	}
	brewed := b.Ratio * (1 - b.IceShare)
	yield := rc.ext.YieldPct
	doubt := brew.Doubtful(b.Method == models.Steeped, brewed)
	if doubt != "" || yield < lowYield || yield > highYield {
		why := fmt.Sprintf("a modelled yield of %.1f %% lies far from the usual 18–22 %%: measure strength and beverage of one brew", yield)
		if doubt != "" {
			why = doubt
		}
		j.warn(s, models.WarnYieldDoubtful, models.GradeNote, j.firstBatch(i), yield, "%", 100, []string{field + ".ratio", field + ".ice_share", field + ".max_yield_pct"},
			"%s: %s.", j.name(i), why)
	}
	if rc.boils {
		s := about(b.Code + " boils")
		s.bev = i
		j.warn(s, models.WarnYieldDoubtful, models.GradeNote, j.firstBatch(i), b.BrewerOutTempC-rc.outC, "°C", 100, []string{field + ".brewer_out_temp_c", "site.altitude_m"},
			"%s cannot leave the brewer at %.0f °C: water boils at %.1f °C at %.0f m; the plan counts with that.", j.name(i), b.BrewerOutTempC, rc.outC, j.req.Site.AltitudeM)
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
			"A largest batch of %s takes %s from %.0f °C to %.0f °C, and the default rule allows 2 h: cool it in a bath, in thinner vessels, or brew less at once. The local food code rules.", j.name(i), inMinutes(toCool), warmC, coolC)
	case toCold > toColdMin:
		j.warn(s, models.WarnCoolingSlow, models.GradeNote, j.firstBatch(i), orZero(toCold-toColdMin), "min", 100, fields,
			"%s goes into the store at %.1f °C and takes %s to %.0f °C, counted from %.0f °C, and the default rule allows 6 h: aim at %.0f °C or keep the store colder. The local food code rules.",
			j.name(i), rc.after.FinalC, inMinutes(toCold), coldC, warmC, coldC)
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

func inMinutes(m float64) string {
	switch {
	case math.IsInf(m, 0):
		return "longer than can be said"
	case m >= 120:
		return fmt.Sprintf("%.1f h", m/60)
	}
	return fmt.Sprintf("%.0f min", m)
}

// warnLimits says which settings are laxer than the default food code.
func (j *job) warnLimits() {
	site := &j.req.Site
	if site.StoreTempC > coldC {
		j.warn(about("store"), models.WarnLimitLax, models.GradeActToday, j.h.start, site.StoreTempC-coldC, "°C", 100, []string{"site.store_temp_c"},
			"The cold store is set to %.1f °C; the default rule holds at %.0f °C or colder. The local food code rules.", site.StoreTempC, coldC)
	}
	if site.MaxHoldH > longHoldH {
		j.warn(about("hold"), models.WarnLimitLax, models.GradeNote, j.h.start, site.MaxHoldH-longHoldH, "h", 100, []string{"site.max_hold_h"},
			"Beverages may be held %.0f h here; the default is %.0f h. The local food code rules.", site.MaxHoldH, longHoldH)
	}
}

// warnKnowledge says what the plan knows only from long ago, or not at all.
func (j *job) warnKnowledge() {
	r := j.req
	old := func(key, field string, at *time.Time, what string) {
		if at == nil {
			return
		}
		if h := j.h.start.Sub(*at).Hours(); h > staleCountH {
			j.warn(about(key), models.WarnStockCountOld, models.GradeActToday, j.h.start, h, "h", 100, []string{field},
				"The %s was last counted %.0f h ago, %s: count it again, the plan leans on it.", what, h, j.when(*at))
		}
	}
	old("drink ice", "ice.counted_at", r.Ice.CountedAt, "drink ice")
	old("plain ice", "ice.plain.counted_at", r.Ice.Plain.CountedAt, "plain ice")
	if j.airGaps > 0 {
		at := j.h.start
		j.warn(about("weather gaps"), models.WarnForecastOld, models.GradeNote, at, float64(j.airGaps), "h", 100, []string{"weather"},
			"%d h of these days have no weather: they take the hottest value known for that hour, else %.0f °C.", j.airGaps, unknownHottestC)
	}
	if r.WeatherIssuedAt != nil {
		if h := j.h.start.Sub(*r.WeatherIssuedAt).Hours(); h > staleForecastH {
			j.warn(about("weather age"), models.WarnForecastOld, models.GradeNote, j.h.start, h, "h", 100, []string{"weather_issued_at"},
				"The weather forecast is %.0f h old: fetch a newer one, ice and demand lean on it.", h)
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
				"No sales count since %s, %.0f min ago: the rest of the day is planned as if nothing was known of it.", j.when(last), quiet.Minutes())
		}
	}
}
