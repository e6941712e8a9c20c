package planner

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/risk"
)

// subject is what a warning is about: its key tells the same warning in another plan, bev, coffee and day narrow the ways out.
type subject struct {
	key    string
	bev    int // −1: none
	coffee int // −1: none
	day    int // −1: none
	reason string
	more   float64 // amount to plan a way out for, in the warning's unit
}

// about is a subject with no beverage, coffee or day of its own.
func about(key string) subject { return subject{key: key, bev: -1, coffee: -1, day: -1} }

// warn adds a warning with what its cause says. An empty grade is found from the time.
func (j *job) warn(s subject, kind, grade string, at time.Time, amount float64, unit string, chancePct float64, fields []string, cause string) {
	if at.Before(j.h.start) {
		at = j.h.start
	}
	if grade == "" {
		grade = j.urgency(at, chancePct)
	}
	if math.IsNaN(amount) || math.IsInf(amount, 0) {
		amount = 0
	}
	s.more = max(s.more, amount)
	s.key = kind + "|" + s.key
	j.out.Warnings = append(j.out.Warnings, models.Warning{Kind: kind, Grade: grade, At: at.In(j.loc), Amount: amount, Unit: unit,
		ChancePct: tenth(min(100, max(0, chancePct))), Cause: cause, Fields: fields, WaysOut: []models.WayOut{}})
	j.subj = append(j.subj, s)
}

// tenth rounds a chance to 0.1 %: 1,000 days say no more.
func tenth(pct float64) float64 { return math.Round(pct*10) / 10 }

// Spans of urgency: what is nearer than soon cannot wait, what is nearer than today is decided today.
const (
	soon  = 3 * time.Hour
	today = 36 * time.Hour
)

func (j *job) urgency(at time.Time, chancePct float64) string {
	switch ahead := at.Sub(j.h.start); {
	case chancePct < 20:
		return models.GradeNote
	case ahead < soon:
		return models.GradeActNow
	case ahead < today || chancePct >= 60:
		return models.GradeActToday
	}
	return models.GradeNote
}

// when writes a moment as a manager says it.
func (j *job) when(t time.Time) string { return j.q.At(t) }

func (j *job) warnings() {
	j.warnIce()
	j.warnPlain()
	j.warnBeverages()
	j.warnBeans()
	j.warnWater()
	j.warnStore()
	j.warnBrewers()
	j.warnRecipes()
	j.warnLimits()
	j.warnKnowledge()
	j.sortWarnings()
}

// sortWarnings puts what cannot wait first, then by time.
func (j *job) sortWarnings() {
	rank := map[string]int{models.GradeActNow: 0, models.GradeActToday: 1, models.GradeNote: 2}
	order := make([]int, len(j.subj))
	for i := range order {
		order[i] = i
	}
	w := j.out.Warnings
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(rank[w[a].Grade], rank[w[b].Grade]), w[a].At.Compare(w[b].At), cmp.Compare(j.subj[a].key, j.subj[b].key))
	})
	sorted, subj := make([]models.Warning, len(order)), make([]subject, len(order))
	for i, k := range order {
		sorted[i], subj[i] = w[k], j.subj[k]
	}
	j.out.Warnings, j.subj = sorted, subj
}

// warnBeverages says for each beverage and service day how likely it runs out beyond the risk that was chosen, and why.
func (j *job) warnBeverages() {
	spans := j.h.daySlots()
	for i := range j.req.Beverages {
		days := outlookDays(j.outlook.Stocks, i)
		for d, date := range j.h.days {
			var o risk.Shortage
			if d < len(days) {
				o = days[d]
			}
			planned, first := 0.0, -1
			for t := spans[d][0]; t < spans[d][1]; t++ {
				if g := j.result.Short[i][t]; g > 0.5 {
					planned += g
					if first < 0 {
						first = t
					}
				}
			}
			least := max(j.smallestUse(i), leastShortShare*models.Sum(j.needs.path[i][spans[d][0]:spans[d][1]]))
			risky := o.Chance > 1-j.needs.level(i, d)+0.15 && o.Median > least
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
			s := about(j.req.Beverages[i].Code + "|" + string(date))
			s.bev, s.day, s.more = i, d, max(o.P90, planned)/1000
			cause := j.shortCause(i, at, planned >= least)
			s.reason = cause.reason
			j.warn(s, models.WarnBeverageShort, "", j.h.at(at), amount/1000, "kg", o.Chance*100, cause.fields,
				j.q.Say("warn.beverage_short", "at", j.when(j.h.at(at)), "chance", j.q.Chance(o.Chance*100), "mass", j.q.About(amount), "beverage", j.name(i), "why", cause.why))
		}
	}
}

// smallestUse is the least that a serving takes of a beverage.
func (j *job) smallestUse(bev int) float64 {
	least := math.Inf(1)
	for d := range j.req.Drinks {
		for _, u := range j.req.Drinks[d].Uses {
			if u.Beverage == j.req.Beverages[bev].Code {
				least = min(least, u.G)
			}
		}
	}
	return least
}

func (j *job) name(bev int) string {
	return cmp.Or(j.req.Beverages[bev].Name, j.req.Beverages[bev].Code)
}
