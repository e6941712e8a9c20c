package planner

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/risk"
)

// warning is a warning of the plan with its subject.
type warning struct {
	models.Warning
	subject
}

// subject is the matter of a warning: its key finds the same warning in another plan; beverage, coffee and day narrow the fixes.
type subject struct {
	key    string
	bev    int // −1: none
	coffee int // −1: none
	day    int // −1: none
	reason string
	more   float64 // amount that a fix should cover, in the warning's unit
}

// about is a subject with no beverage, coffee or day of its own.
func about(key string) subject { return subject{key: key, bev: -1, coffee: -1, day: -1} }

// warning words and grades a warning. An empty grade follows from the time and the chance.
func (st *setting) warning(s subject, kind, grade string, at time.Time, amount float64, unit string, chancePct float64, fields []string, cause string) warning {
	if at.Before(st.h.start) {
		at = st.h.start
	}
	if grade == "" {
		grade = st.urgency(at, chancePct)
	}
	if math.IsNaN(amount) || math.IsInf(amount, 0) {
		amount = 0
	}
	s.more = max(s.more, amount)
	s.key = kind + "|" + s.key
	code := ""
	switch {
	case s.bev >= 0:
		code = st.req.Beverages[s.bev].Code
	case s.coffee >= 0:
		code = st.req.Coffees[s.coffee].Code
	}
	return warning{models.Warning{Kind: kind, Subject: code, Grade: grade, At: at.In(st.loc), Amount: amount, Unit: unit,
		ChancePct: tenth(min(100, max(0, chancePct))), Cause: cause, Fields: fields, Fixes: []models.Fix{}}, s}
}

// tenth rounds a chance to 0.1%, the resolution of 1,000 Monte Carlo days.
func tenth(pct float64) float64 { return math.Round(pct*10) / 10 }

// Urgency: anything closer than actNow cannot wait, anything closer than actToday is decided today.
const (
	actNow   = 3 * time.Hour
	actToday = 36 * time.Hour
)

func (st *setting) urgency(at time.Time, chancePct float64) string {
	switch ahead := at.Sub(st.h.start); {
	case chancePct < 20:
		return models.GradeNote
	case ahead < actNow:
		return models.GradeActNow
	case ahead < actToday || chancePct >= 60:
		return models.GradeActToday
	}
	return models.GradeNote
}

// when writes a time as a manager says it.
func (st *setting) when(t time.Time) string { return st.q.At(t) }

// warn returns all warnings, the most urgent first, then by time.
func (dr *draft) warn(p *models.Plan) []warning {
	short, likeliest := dr.warnIce()
	out := slices.Concat(short, dr.warnPlain(&p.Ice, likeliest), dr.warnSupplies(p.Supplies), dr.warnBeverages(), dr.warnBeans(), dr.warnWater(), dr.warnStore(),
		dr.warnBrewers(), dr.warnRecipes(), dr.warnLimits(), dr.warnKnowledge())
	out = dr.oneLineACause(out)
	rank := map[string]int{models.GradeActNow: 0, models.GradeActToday: 1, models.GradeNote: 2}
	slices.SortStableFunc(out, func(a, b warning) int {
		return cmp.Or(cmp.Compare(rank[a.Grade], rank[b.Grade]), a.At.Compare(b.At), cmp.Compare(a.key, b.key))
	})
	return dr.oneLineAThing(out)
}

// oneLineAThing joins warnings of one kind about one thing on one day, into the most urgent of them. all are in order.
func (st *setting) oneLineAThing(all []warning) (out []warning) {
	type thing struct {
		kind, subject, rule, part string
		day                       models.Date
	}
	first := map[thing]int{}
	for _, w := range all {
		k := thing{w.Kind, w.Subject, w.Rule, matterOf(w.Fields), st.req.Site.ServiceDayOf(w.At)}
		i, known := first[k]
		if !known {
			first[k] = len(out)
			out = append(out, w)
			continue
		}
		o := &out[i]
		o.Cause += " " + w.Cause
		for _, f := range w.Fields {
			if !slices.Contains(o.Fields, f) {
				o.Fields = append(slices.Clone(o.Fields), f)
			}
		}
	}
	return out
}

// matterOf is the part of the request that a warning's first field belongs to: "ice.plain" of ice.plain.bin_g, "beverages.1" of
// beverages.1.ratio.
func matterOf(fields []string) string {
	if len(fields) == 0 {
		return ""
	}
	parts := strings.Split(fields[0], ".")
	n := min(2, len(parts))
	if len(parts) > 2 && strings.Trim(parts[2], "0123456789") == "" {
		n = 3
	}
	return strings.Join(parts[:n], ".")
}

// oneLineACause joins a warning against serving ice-bath ice to that of running out of ice for drinks on the same day: it is the same
// shortage, and the same ice to buy.
func (dr *draft) oneLineACause(all []warning) []warning {
	short := map[int]int{} // by day
	for i := range all {
		if all[i].Kind == models.WarnIceShort && all[i].day >= 0 {
			short[all[i].day] = i
		}
	}
	joined := func(w warning) (int, bool) {
		i, found := short[w.day]
		return i, found && w.Kind == models.WarnPlainIce
	}
	for _, w := range all {
		if i, ok := joined(w); ok {
			all[i].Cause += " " + dr.q.Say("warn.never_served")
			all[i].Fields = append(all[i].Fields, slices.DeleteFunc(w.Fields, func(f string) bool { return f == "ice.plain" })...)
		}
	}
	return slices.DeleteFunc(all, func(w warning) bool {
		_, ok := joined(w)
		return ok
	})
}

// warnBeverages warns, for each beverage and service day, of a chance of running out above the chosen risk, with the cause.
func (dr *draft) warnBeverages() (out []warning) {
	spans := dr.h.daySlots()
	for i := range dr.req.Beverages {
		days := outlookDays(dr.outlook.Stocks, i)
		for d := dr.h.before; d < len(dr.h.days); d++ {
			date := dr.h.days[d]
			var o risk.Shortage
			if d < len(days) {
				o = days[d]
			}
			planned, first := 0.0, -1
			for t := spans[d][0]; t < spans[d][1]; t++ {
				if g := dr.result.Short[i][t]; g > 0.5 {
					planned += g
					if first < 0 {
						first = t
					}
				}
			}
			least := max(dr.smallestUse(i), leastShortShare*models.Sum(dr.needs.path[i][spans[d][0]:spans[d][1]]))
			risky := o.Chance > 1-dr.needs.level(i, d)+0.15 && o.Median > least
			if planned < least && !risky {
				continue
			}
			at, amount := o.FirstSlot, o.Median
			if first >= 0 && (at < 0 || planned >= least) {
				at = first
			}
			if at < 0 {
				continue
			}
			amount = max(amount, planned)
			s := about(dr.req.Beverages[i].Code + "|" + string(date))
			s.bev, s.day, s.more = i, d, max(o.P90, planned)/1000
			cause := dr.shortCause(i, at, amount, planned >= least)
			s.reason = cause.reason
			out = append(out, dr.warning(s, models.WarnBeverageShort, "", dr.h.at(at), amount/1000, "kg", o.Chance*100, cause.fields,
				dr.q.Say("warn.runs_out", "at", dr.when(dr.h.at(at)), "chance", dr.q.AboutChance(o.Chance*100), "mass", dr.q.GlanceMass(amount), "what", dr.name(i), "why", cause.why)))
		}
	}
	return out
}

// smallestUse is the smallest amount of a beverage in any drink, g.
func (st *setting) smallestUse(bev int) float64 {
	least := math.Inf(1)
	for d := range st.req.Drinks {
		for _, u := range st.req.Drinks[d].Uses {
			if u.Beverage == st.req.Beverages[bev].Code {
				least = min(least, u.G)
			}
		}
	}
	return least
}

func (st *setting) name(bev int) string {
	return cmp.Or(st.req.Beverages[bev].Name, st.req.Beverages[bev].Code)
}
