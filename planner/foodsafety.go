package planner

import (
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/chill"
	"hotday/planner/say"
)

// coldC is the cold-holding limit that fixes aim at, °C: the strictest of the presets.
const coldC = chill.SafeStoreC

// lax is a setting that is laxer than the site's food safety rules.
type lax struct {
	rule  string
	of    int // beverage; −1: the site
	value float64
	over  float64 // how far it exceeds the rule, in unit
	unit  string
	kind  string
	field []string
	text  string
}

// warnLax warns of a lax setting: to be dealt with today, or a note once somebody has signed it off.
func (st *setting) warnLax(l lax) warning {
	s := about(l.rule)
	code := ""
	if l.of >= 0 {
		s.bev, code = l.of, st.req.Beverages[l.of].Code
		s.key += "|" + code
	}
	grade, text := models.GradeActToday, l.text
	by, signed := st.req.Site.SignedOff(l.rule, code, l.value)
	if signed {
		grade = models.GradeNote
		text = st.q.Say("food.signed_off", "text", l.text, "by", by.By, "day", st.q.DayName(models.DateOf(by.At, st.loc)), "reason", by.Reason)
	}
	w := st.warning(s, l.kind, grade, st.h.start, orZero(l.over), l.unit, 100, l.field, text)
	w.Rule, w.Value, w.SignedBy = l.rule, orZero(l.value), by.By
	return w
}

// warnFoodSafety checks a beverage against the site's food safety rules: cooling, temperature when stored and served, hold time and
// steeping.
func (dr *draft) warnFoodSafety(i int, rc *recipe) (out []warning) {
	b, rules := rc.bev, chill.FoodRulesOf(&dr.req.Site)
	field := fmt.Sprintf("beverages.%d", i)
	add := func(l lax) {
		l.of = i
		out = append(out, dr.warnLax(l))
	}
	if final := rc.after.FinalC; final > rules.ColdC+slackC && b.Method != models.Steeped {
		add(lax{rule: models.RuleServedWarm, value: final, over: final - rules.ColdC, unit: "°C", kind: models.WarnLimitLax,
			field: []string{field + ".target_temp_c"}, text: dr.q.Say("food.served_warm", "beverage", dr.name(i), "temp", dr.q.Temp(final), "cold", dr.q.Temp(rules.ColdC))})
	}
	if hold, most := dr.req.Site.HoldH(b), rules.HoldH(b.Method); hold > most {
		add(lax{rule: models.RuleHold, value: hold, over: hold - most, unit: "h", kind: models.WarnLimitLax, field: []string{field + ".hold_h", "site.max_hold_h"},
			text: dr.q.Say("food.hold", "beverage", dr.name(i), "hours", say.Number(hold, 0), "most", say.Number(most, 0))})
	}
	if b.Method == models.Steeped && b.SteepTempC > rules.ColdC {
		add(lax{rule: models.RuleSteepWarm, value: b.SteepTempC, over: b.SteepTempC - rules.ColdC, unit: "°C", kind: models.WarnSteepWarm, field: []string{field + ".steep_temp_c"},
			text: dr.q.Say("food.steep_warm", "beverage", dr.name(i), "hours", say.Number(*b.SteepH, 0), "temp", dr.q.Temp(b.SteepTempC), "cold", dr.q.Temp(rules.ColdC))})
	}
	return append(out, dr.warnCooling(i, rc, rules)...)
}

// warnCooling checks the cooling of the largest batch against every rule of the set.
func (dr *draft) warnCooling(i int, rc *recipe, rules chill.FoodRules) []warning {
	b, field := rc.bev, fmt.Sprintf("beverages.%d", i)
	dose, busy := 0.0, 0.0
	for k := range dr.options {
		if o := &dr.options[k]; o.bev == i && rc.doseFor(o.hi) > dose {
			dose, busy = rc.doseFor(o.hi), dr.req.Brewers[o.brewer].BusyMin
		}
	}
	if dose <= 0 || b.Method == models.Steeped && rc.outC <= rules.ColdC+slackC {
		return nil
	}
	l := lax{rule: models.RuleCooling, of: i, unit: "min", kind: models.WarnCoolingSlow,
		field: []string{field + ".cooling_ua_w_per_k", field + ".measured_cooling_min", field + ".bath", field + ".target_temp_c", "site.store_temp_c"}}
	c := rc.cooling(dose, busy, dr.req.Site.StoreTempC, rules.ColdC)
	if c.unknown {
		l.value = math.MaxFloat32
		l.text = dr.q.Say("food.cooling_unknown", "beverage", dr.name(i), "from", dr.q.WholeTemp(60), "to", dr.q.WholeTemp(rules.ColdC))
		return []warning{dr.warnLax(l)}
	}
	for _, limit := range rules.Cooling {
		first, second := c.times(limit)
		over := max(first-limit.FirstMin, first+second-limit.FirstMin-limit.SecondMin)
		if over <= 0 || over <= l.over {
			continue
		}
		l.over, l.value = over, first+second
		key, time, within, to := "food.cooling_first", first, limit.FirstMin, limit.MiddleC
		if first <= limit.FirstMin {
			key, time, within, to = "food.cooling_second", first+second, limit.FirstMin+limit.SecondMin, limit.ColdC
		}
		l.text = dr.q.Say(key, "beverage", dr.name(i), "time", dr.q.Minutes(time), "within", dr.q.Minutes(within), "warm", dr.q.WholeTemp(limit.HotC), "cool", dr.q.WholeTemp(to), "final", dr.q.Temp(rc.after.FinalC))
		if math.IsInf(time, 0) {
			l.text = dr.q.Say("food.cooling_never", "beverage", dr.name(i), "final", dr.q.Temp(rc.after.FinalC), "cool", dr.q.WholeTemp(to), "store", dr.q.Temp(dr.req.Site.StoreTempC))
		}
	}
	var out []warning
	if l.over > 0 {
		out = append(out, dr.warnLax(l))
	}
	if c.stated {
		s := about(b.Code + "|stated")
		s.bev = i
		out = append(out, dr.warning(s, models.WarnCoolingSlow, models.GradeNote, dr.firstBatch(i), b.ReadyMin, "min", 100, l.field[:3],
			dr.q.Say("food.cooling_stated", "beverage", dr.name(i), "minutes", say.Number(b.ReadyMin, 0))))
	}
	return out
}

// cooling is how a batch cools: stages in order. stated: a stage in a bath takes the recipe's ready_min at its word. unknown: some stage
// is neither measured nor stated.
type cooling struct {
	stages          []chill.Stage
	stated, unknown bool
}

// cooling returns the stages by which a batch of doseG g gets cold: rest, bath or cold store, ice at once, and the cold store again if it
// is still above coldC °C.
func (r *recipe) cooling(doseG, busyMin, storeC, coldC float64) cooling {
	var c cooling
	at, mass := r.outC, r.brewedG(doseG)
	stage := func(to, ambient float64, inBath bool) {
		if to >= at-1e-9 {
			return
		}
		s := chill.Stage{FromC: at, ToC: to, AmbientC: ambient}
		switch {
		case r.bev.CoolingUAWPerK != nil:
			s.Minutes = chill.CoolingMinutes(mass, at, ambient, *r.bev.CoolingUAWPerK, to)
		case inBath:
			s.Minutes, c.stated = max(0, r.bev.ReadyMin-busyMin), true
		default:
			c.unknown = true
		}
		c.stages = append(c.stages, s)
		at = to
	}
	stage(r.restC, r.restAmbientC(), false)
	if r.coolToC != nil {
		stage(*r.coolToC, r.ambientC, r.inBath)
	}
	if final := r.after.FinalC; final < at {
		c.stages = append(c.stages, chill.Stage{FromC: at, ToC: final})
		at = final
	}
	mass = r.brew.FinishedPerDose() * doseG
	if at > coldC+slackC {
		if storeC >= coldC {
			c.stages = append(c.stages, chill.Stage{FromC: at, ToC: coldC, AmbientC: storeC, Minutes: math.Inf(1)})
		} else {
			stage(coldC, storeC, false)
		}
	}
	return c
}

// times returns the minutes from the rule's hot temperature, or from the start for a brew that is cooler, to its middle temperature, and
// from there to its cold one. They may be infinite.
func (c cooling) times(l chill.CoolingLimits) (first, second float64) {
	hot, middle, cold := chill.MinutesTo(c.stages, l.HotC), chill.MinutesTo(c.stages, l.MiddleC+slackC), chill.MinutesTo(c.stages, l.ColdC+slackC)
	if math.IsInf(hot, 1) {
		return 0, 0 // never as hot as that, and never cooled
	}
	if first = middle - hot; math.IsInf(middle, 1) {
		return first, 0
	}
	return first, cold - middle
}

func orZero(x float64) float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return 0
	}
	return x
}

// warnLimits warns of site settings laxer than its food safety rules, and of own limits laxer than the set.
func (st *setting) warnLimits() (out []warning) {
	site, rules := &st.req.Site, chill.FoodRulesOf(&st.req.Site)
	if site.StoreTempC > rules.ColdC {
		out = append(out, st.warnLax(lax{rule: models.RuleColdHolding, of: -1, value: site.StoreTempC, over: site.StoreTempC - rules.ColdC, unit: "°C", kind: models.WarnLimitLax,
			field: []string{"site.store_temp_c"}, text: st.q.Say("food.store_warm", "temp", st.q.Temp(site.StoreTempC), "cold", st.q.Temp(rules.ColdC))}))
	}
	for _, own := range chill.Laxer(site) {
		out = append(out, st.warnLax(lax{rule: own.Rule, of: -1, value: own.Value, over: own.Value, unit: own.Unit, kind: models.WarnLimitLax,
			field: []string{"site.food_limits"}, text: st.q.Say("food.own_limit." + own.Rule)}))
	}
	return append(out, st.warnReadings()...)
}

// warnReadings warns of temperatures that were read above their limit.
func (st *setting) warnReadings() (out []warning) {
	latest := map[string]*models.UnderWay{} // by what was read
	for i := range st.req.UnderWay {
		u := &st.req.UnderWay[i]
		if u.Kind != models.TaskTempLog || u.TempC == nil || u.LimitC == nil {
			continue
		}
		of := ""
		if u.Beverage != nil {
			of = *u.Beverage
		}
		if was := latest[of]; was == nil || !u.Start.Before(was.Start) {
			latest[of] = u
		}
	}
	for of, u := range latest {
		if *u.TempC <= *u.LimitC {
			continue
		}
		s, key := about("reading|"+of), "food.reading_store"
		args := []any{"temp", st.q.Temp(*u.TempC), "limit", st.q.Temp(*u.LimitC), "at", st.when(u.Start)}
		if i, ok := st.bevIndex[of]; ok {
			s.bev, key = i, "food.reading_batch"
			args = append(args, "beverage", st.name(i))
		}
		out = append(out, st.warning(s, models.WarnTooWarm, models.GradeActNow, st.h.start, *u.TempC-*u.LimitC, "°C", 100, []string{"under_way"}, st.q.Say(key, args...)))
	}
	return out
}

// longestHold is the longest hold time that the site's rules allow the beverage of a warning, h.
func (st *setting) longestHold(s *subject) float64 {
	if s.bev < 0 {
		return 0
	}
	return chill.FoodRulesOf(&st.req.Site).HoldH(st.req.Beverages[s.bev].Method)
}

// Temperatures between which a full batch is timed, °C.
const (
	timedFromC = 60.0
	timedToC   = 5.0
)

// withMeasuredCooling returns a beverage whose heat transfer, where it is not given, follows from the time that a full batch took to
// cool: m·c·ln((60−Ta)/(5−Ta))/t, the lumped cooling of chill.CoolingMinutes solved for UA.
func withMeasuredCooling(r *models.PlanRequest, i int) *models.Beverage {
	b := &r.Beverages[i]
	if b.MeasuredCoolingMin == nil || b.CoolingUAWPerK != nil {
		return b
	}
	ambient := r.Site.StoreTempC
	if b.Bath {
		ambient = b.BathTempC
	}
	plain := *b
	plain.CoolingUAWPerK = nil
	rc, full := newRecipe(&plain, &r.Site, r.Ice.IceTempC, 0), 0.0
	for k := range r.Brewers {
		if slices.Contains(r.Brewers[k].Beverages, b.Code) {
			if _, hi, ok := rc.limits(&r.Brewers[k]); ok {
				full = max(full, hi)
			}
		}
	}
	at1 := chill.CoolingMinutes(rc.brewedG(rc.doseFor(full)), timedFromC, ambient, 1, timedToC) // with 1 W/K
	if full <= 0 || math.IsInf(at1, 0) {
		return b // Validate refuses surroundings that are not colder than 5 °C
	}
	plain.CoolingUAWPerK = new(at1 / *b.MeasuredCoolingMin)
	return &plain
}

// coldLimit is the limit of the cold store on prep sheets, °C; 0 where the site has chosen no rules.
func (st *setting) coldLimit() float64 {
	if st.req.Site.FoodRules == "" {
		return 0
	}
	return chill.FoodRulesOf(&st.req.Site).ColdC
}

// probes returns when to take the temperature of a batch that cools outside an ice bath: at the end of each stage of the tightest rule,
// from when it leaves its brewer. There are none where the site has chosen no rules.
func (dr *draft) probes(rc *recipe, b *models.BatchTask, busyMin float64) []models.Probe {
	if dr.req.Site.FoodRules == "" || rc.bev.Method == models.Steeped || rc.inBath {
		return nil
	}
	rules := chill.FoodRulesOf(&dr.req.Site)
	if b.IceG > 0 && b.FinalTempC <= rules.ColdC+slackC && rc.restC >= rc.outC {
		return nil // the ice cools it at once
	}
	tightest := rules.Cooling[0]
	for _, l := range rules.Cooling[1:] {
		if l.FirstMin+l.SecondMin < tightest.FirstMin+tightest.SecondMin {
			tightest = l
		}
	}
	out := b.Start.Add(models.Minutes(busyMin))
	probes := []models.Probe{{At: out.Add(models.Minutes(tightest.FirstMin)), LimitC: tightest.MiddleC}}
	if tightest.SecondMin > 0 {
		probes = append(probes, models.Probe{At: out.Add(models.Minutes(tightest.FirstMin + tightest.SecondMin)), LimitC: tightest.ColdC})
	}
	return probes
}
