package models

import (
	"fmt"
	"slices"
	"time"
)

// Validate checks the whole request: value ranges, references, spans, and demand ranges. It returns a CodeInvalid *Error. Physically
// impossible requests are not errors; the plan warns of them.
func (r *PlanRequest) Validate() error {
	c := checker{}
	c.tags(r)
	c.setup(&r.Setup)
	k := known{
		parts:     codes(r.Site.DayParts, func(p DayPart) string { return p.Code }),
		drinks:    codes(r.Drinks, func(d Drink) string { return d.Code }),
		beverages: codes(r.Beverages, func(b Beverage) string { return b.Code }),
	}
	if len(r.Demand) == 0 && len(r.Forecast) == 0 {
		c.add("/demand", "at least one row in demand or forecast", "there is neither demand nor a forecast")
	}
	c.horizon(r)
	c.demandRows(r, k)
	c.dayRows(r, k)
	c.spans(r)
	return c.err()
}

type known struct{ parts, drinks, beverages []string }

func (c *checker) horizon(r *PlanRequest) {
	if !ValidInstant(r.Now) {
		c.add("/now", InstantRange, "%s is out of range", r.Now.Format(time.RFC3339))
		return
	}
	if r.From == "" || r.Days < 1 || !validZone(r.Site.Timezone) {
		return
	}
	today := r.Site.ServiceDayOf(r.Now)
	if last := r.From.AddDays(r.Days - 1); !r.Site.DayEnd(last).After(r.Now) {
		c.add("/now", "a time before the end of the last day", "%s is after the last day of the plan, %s", r.Now.Format(time.RFC3339), last)
	}
	if ahead := today.DaysUntil(r.From); ahead > maxDaysAhead {
		c.add("/from", fmt.Sprintf("at most %d days after now", maxDaysAhead), "%s is %d days after now, when the planning horizon starts", r.From, ahead)
	}
}

// maxDaysAhead bounds the horizon before the first planned day.
const maxDaysAhead = 14

func (c *checker) demandRows(r *PlanRequest, k known) {
	from, to := r.rowDays()
	seen := make(map[[3]string]int, len(r.Demand))
	for i, d := range r.Demand {
		at := fmt.Sprintf("/demand/%d", i)
		c.exists(at+"/day_part", d.DayPart, k.parts, "day part")
		c.exists(at+"/drink", d.Drink, k.drinks, "drink")
		c.onDay(at+"/date", d.Date, from, to)
		c.range10to90(at, d.Expected, d.P10, d.P90)
		key := [3]string{string(d.Date), d.DayPart, d.Drink}
		if first, twice := seen[key]; twice {
			c.add(at, "one row per date, day part and drink", "duplicates /demand/%d", first)
		}
		seen[key] = i
	}
	seenF := make(map[[3]string]int, len(r.Forecast))
	for i, f := range r.Forecast {
		at := fmt.Sprintf("/forecast/%d", i)
		c.exists(at+"/day_part", f.DayPart, k.parts, "day part")
		c.exists(at+"/drink", f.Drink, k.drinks, "drink")
		c.onDay(at+"/date", f.Date, from, to)
		if len(f.Levels) != len(f.Quantiles) {
			c.add(at+"/quantiles", fmt.Sprintf("%d values, one per level", len(f.Levels)), "the list has %d entries", len(f.Quantiles))
		}
		if !increasing(f.Levels) {
			c.add(at+"/levels", "strictly increasing levels", "the levels are not in order")
		}
		if !slices.IsSorted(f.Quantiles) {
			c.add(at+"/quantiles", "non-decreasing quantiles", "the quantiles are not in order")
		}
		key := [3]string{string(f.Date), f.DayPart, f.Drink}
		if first, twice := seenF[key]; twice {
			c.add(at, "one row per date, day part and drink", "duplicates /forecast/%d", first)
		}
		seenF[key] = i
	}
}

func increasing(xs []float64) bool {
	for i := 1; i < len(xs); i++ {
		if xs[i] <= xs[i-1] {
			return false
		}
	}
	return true
}

// range10to90 checks p10 ≤ expected ≤ p90, with both bounds or neither.
func (c *checker) range10to90(at string, expected float64, p10, p90 *float64) {
	switch {
	case (p10 == nil) != (p90 == nil):
		missing := at + "/p10"
		if p90 == nil {
			missing = at + "/p90"
		}
		c.add(missing, "both p10 and p90, or neither", "one end of the range is missing")
	case p10 == nil:
	case *p10 > *p90:
		c.add(at+"/p10", fmt.Sprintf("at most p90, %g", *p90), "%g is above p90", *p10)
	case expected > 0 && (*p10 > expected || *p90 < expected):
		c.add(at+"/expected", fmt.Sprintf("from p10 to p90, %g to %g", *p10, *p90), "%g is outside the range", expected)
	}
}

// rowDays returns the days that rows may be of: those of the plan, and from now's service day up to it.
func (r *PlanRequest) rowDays() (first, last Date) {
	first = r.From
	if ValidInstant(r.Now) && validZone(r.Site.Timezone) {
		first = min(first, r.Site.ServiceDayOf(r.Now))
	}
	return first, r.From.AddDays(r.Days - 1)
}

func (c *checker) onDay(pointer string, d, first, last Date) {
	if d < first || d > last {
		c.add(pointer, fmt.Sprintf("a date from %s to %s", first, last), "%s is neither a day of the plan nor between now and the plan", d)
	}
}

func (c *checker) dayRows(r *PlanRequest, k known) {
	for i, s := range r.Stock {
		at := fmt.Sprintf("/stock/%d", i)
		c.exists(at+"/beverage", s.Beverage, k.beverages, "beverage")
		if s.MadeAt.After(r.Now) {
			c.add(at+"/made_at", "a time at or before now", "made in the future")
		}
	}
	for i, s := range r.Sold {
		at := fmt.Sprintf("/sold/%d", i)
		c.exists(at+"/day_part", s.DayPart, k.parts, "day part")
		c.exists(at+"/drink", s.Drink, k.drinks, "drink")
		if s.Until.After(r.Now) {
			c.add(at+"/until", "a time at or before now", "sold in the future")
		}
	}
	brewers := codes(r.Brewers, func(b Brewer) string { return b.Code })
	moulds := codes(r.Ice.Moulds, func(m MouldSet) string { return m.Code })
	coffees := codes(r.Coffees, func(x Coffee) string { return x.Code })
	for i, u := range r.UnderWay {
		at := fmt.Sprintf("/under_way/%d", i)
		c.existsIfGiven(at+"/brewer", u.Brewer, brewers, "brewer")
		c.existsIfGiven(at+"/beverage", u.Beverage, k.beverages, "beverage")
		c.existsIfGiven(at+"/mould", u.Mould, moulds, "mould set")
		c.existsIfGiven(at+"/coffee", u.Coffee, coffees, "coffee")
		if u.Start.After(r.Now) {
			c.add(at+"/start", "a time at or before now", "a task under way cannot start in the future")
		}
	}
	makers := codes(r.Ice.Makers, func(m IceMaker) string { return m.Code })
	for i, o := range r.Outages {
		at := fmt.Sprintf("/outages/%d/code", i)
		switch o.Kind {
		case "brewer":
			c.exists(at, o.Code, brewers, "brewer")
		case "maker":
			c.exists(at, o.Code, makers, "ice machine")
		case "mould":
			c.exists(at, o.Code, moulds, "mould set")
		}
	}
}

func (c *checker) existsIfGiven(pointer string, code *string, among []string, noun string) {
	if code != nil {
		c.exists(pointer, *code, among, noun)
	}
}

func (c *checker) spans(r *PlanRequest) {
	for i, o := range r.Outages {
		c.span(fmt.Sprintf("/outages/%d", i), o.From, o.To)
	}
	for i, a := range r.Attention {
		c.span(fmt.Sprintf("/attention/%d", i), a.From, a.To)
	}
	for i, e := range r.Events {
		c.span(fmt.Sprintf("/events/%d", i), e.From, e.To)
	}
}

func (c *checker) span(at string, from, to time.Time) {
	if !from.Before(to) {
		c.add(at+"/to", "a time after from, "+from.Format(time.RFC3339), "%s is not after from", to.Format(time.RFC3339))
	}
}
