package web

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"hotday/models"
	"hotday/planner/say"
)

// dayTab is a day in the strip at the top of Weekend.
type dayTab struct {
	Date    models.Date
	Name    string // "Sat 11 July"
	TempC   string // of the hottest hour; "": no weather forecast
	State   string // "published"
	Stale   bool   // something that the plan rests on has changed
	Worst   string // grade of its worst warning; "": none
	Warned  string // that grade in words
	Current bool
}

// keyFigure is one of the three figures that answer a manager's first questions.
type keyFigure struct {
	Value, Label string
	Short        bool // something is short
}

// Number is the part of the value that is written large, Unit the rest with its space: "12.1" and " kg".
func (f keyFigure) Number() string { return f.Value[:f.unitAt()] }

// Unit is what follows Number.
func (f keyFigure) Unit() string { return f.Value[f.unitAt():] }

func (f keyFigure) unitAt() int {
	at := strings.IndexFunc(f.Value, unicode.IsSpace)
	if at < 0 || strings.ContainsFunc(f.Value[at:], unicode.IsDigit) { // digits after a space are of the same number
		return len(f.Value)
	}
	return at
}

// bestFix is the fix that the first screen offers.
type bestFix struct {
	Warning, Fix int // indexes in the plan
	Action       string
}

// addFirstScreen adds what a manager sees first: the days, a headline, three figures and the best fix, of the chosen day of the plan.
func (v *weekendView) addFirstScreen(st weekendState, setup models.Setup, chosen models.Date) {
	plan := &st.plan
	if last := plan.From.AddDays(plan.Days - 1); chosen < plan.From || chosen > last {
		chosen = min(max(setup.Site.ServiceDayOf(v.now), plan.From), last)
	}
	v.Chosen, v.ChosenDay, v.TempUnit = chosen, v.voice.DayName(chosen), v.voice.TempUnit()
	if w, ok := hottest(st.weather, setup.Site, chosen); ok {
		v.High, _, _ = strings.Cut(v.voice.WholeTemp(w.TempC), "\u202f")
	}
	v.HighByHand = slices.ContainsFunc(st.highs, func(h models.WeatherHigh) bool { return h.Date == chosen })
	for _, d := range st.days {
		v.Tabs = append(v.Tabs, v.dayTab(st, setup, d, d == chosen))
	}
	v.Headline = v.headline(plan, setup, chosen)
	if _, known := hottest(st.request.Weather, setup.Site, chosen); !known {
		v.Headline = v.voice.Say("weekend.headline.weather_unknown", "headline", v.Headline)
	}
	v.Figures = []keyFigure{v.heatFigure(&st, chosen), v.drinksFigure(plan, chosen), v.iceFigure(plan, setup.Site, chosen)}
	v.Best = v.bestFix(plan, setup.Site, chosen)
}

func (v *weekendView) dayTab(st weekendState, setup models.Setup, d models.Date, current bool) dayTab {
	q := v.voice
	t := dayTab{Date: d, Name: q.ShortDay(d) + " " + q.ShortDate(noonOf(d, q.Location())), Current: current}
	plan, request := &st.plan, &st.request
	if d < plan.From || d >= plan.From.AddDays(plan.Days) {
		plan, request = nil, nil
	}
	if request != nil {
		if c, ok := hottest(request.Weather, setup.Site, d); ok {
			t.TempC = q.WholeTemp(c.TempC)
		}
	}
	state := "weekend.day.planned"
	switch {
	case plan != nil && st.staleOn(setup, d, v.stale):
		state, t.Stale = "weekend.day.stale", true
	case slices.Contains(st.sheets, d):
		state = "weekend.day.published"
	}
	t.State = q.Say(state)
	if plan == nil {
		return t
	}
	for _, grade := range gradeOrder[:2] {
		if slices.ContainsFunc(plan.Warnings, func(w models.Warning) bool { return w.Grade == grade && setup.Site.ServiceDayOf(w.At) == d }) {
			t.Worst, t.Warned = grade, q.WarningGrade(grade)
			break
		}
	}
	return t
}

// hotterBy is the change of a day's highest temperature, K, that calls for a new plan.
const hotterBy = 1.0

// staleOn reports whether something that the plan of a day rests on has changed since it was made: an event, the weather forecast, the
// manager's own numbers, or the recipes, drinks, brewers and prices of the settings.
func (st *weekendState) staleOn(setup models.Setup, d models.Date, changed []models.Span) bool {
	day := models.Span{From: d.At(0, setup.Site.Location()), To: setup.Site.DayEnd(d)}
	if slices.ContainsFunc(changed, func(s models.Span) bool { return !s.Overlap(day).Empty() }) {
		return true
	}
	r := &st.request
	then, planned := hottest(r.Weather, setup.Site, d)
	if now, known := hottest(st.weather, setup.Site, d); known && (!planned || math.Abs(now.TempC-then.TempC) >= hotterBy) {
		return true
	}
	own := map[[2]string]float64{}
	for _, x := range r.Demand {
		if x.Date == d {
			own[[2]string{x.DayPart, x.Drink}] = x.Expected
		}
	}
	n := 0
	for _, x := range st.expected {
		if x.Date != d || x.Expected == nil {
			continue
		}
		n++
		if was, had := own[[2]string{x.DayPart, x.Drink}]; !had || was != *x.Expected {
			return true
		}
	}
	return n != len(own) || !reflect.DeepEqual(setup.Beverages, r.Beverages) || !reflect.DeepEqual(setup.Drinks, r.Drinks) ||
		!reflect.DeepEqual(setup.Brewers, r.Brewers) || !reflect.DeepEqual(setup.Costs, r.Costs)
}

// hottest is the hottest hour of a service day.
func hottest(hours []models.WeatherHour, site models.Site, d models.Date) (at models.WeatherHour, ok bool) {
	for _, w := range hours {
		if site.ServiceDayOf(w.At) == d && (!ok || w.TempC > at.TempC) {
			at, ok = w, true
		}
	}
	return at, ok
}

// headline is the day's state in one sentence: its worst shortage, or that nothing is likely to run out.
func (v *weekendView) headline(plan *models.Plan, setup models.Setup, d models.Date) string {
	q := v.voice
	day := q.DayName(d)
	for _, grade := range gradeOrder[:2] {
		for _, w := range plan.Warnings {
			if w.Grade != grade || setup.Site.ServiceDayOf(w.At) != d {
				continue
			}
			switch {
			case w.OfBathIce():
			case w.Kind == models.WarnIceShort:
				return q.Say("weekend.headline.ice", "day", day, "when", q.Clock(w.At), "chance", q.AboutChance(w.ChancePct))
			case w.Kind == models.WarnBeverageShort:
				return q.Say("weekend.headline.beverage", "day", day, "what", beverageName(setup.Beverages, w.Subject), "when", q.Clock(w.At), "chance", q.AboutChance(w.ChancePct))
			}
		}
	}
	if n := warnedOn(plan, setup.Site, d); n > 0 {
		return q.Say("weekend.headline.warnings", "day", day, "n", n)
	}
	return q.Say("weekend.headline.fine", "day", day)
}

// warnedOn is the number of a day's warnings to act on.
func warnedOn(plan *models.Plan, site models.Site, d models.Date) (n int) {
	for _, w := range plan.Warnings {
		if w.Grade != models.GradeNote && site.ServiceDayOf(w.At) == d {
			n++
		}
	}
	return n
}

func (v *weekendView) heatFigure(st *weekendState, d models.Date) keyFigure {
	q, r := v.voice, &st.request
	if w, ok := hottest(r.Weather, r.Site, d); ok {
		age, old, known := st.forecastAge(v.now)
		switch {
		case v.HighByHand:
			return keyFigure{Value: q.WholeTemp(w.TempC), Label: q.Say("weekend.figure.hottest_yours", "when", q.Clock(w.At))}
		case known && old:
			return keyFigure{Value: q.WholeTemp(w.TempC), Label: q.Say("weekend.figure.hottest_age", "when", q.Clock(w.At), "age", q.Age(age)), Short: true}
		}
		return keyFigure{Value: q.WholeTemp(w.TempC), Label: q.Say("weekend.figure.hottest", "when", q.Clock(w.At))}
	}
	return keyFigure{Value: "–", Label: q.Say("weekend.figure.no_weather"), Short: true}
}

// missedNone is the share of a day's drinks below which missing them is not worth a word.
const missedNone = 0.01

func (v *weekendView) drinksFigure(plan *models.Plan, d models.Date) keyFigure {
	q := v.voice
	for _, x := range plan.Expected.Days {
		if x.Date != d {
			continue
		}
		f := keyFigure{Value: say.Number(x.Demanded, 0), Label: q.Say("weekend.figure.drinks_all")}
		if missed := math.Round(x.Missed); missed >= 1 && x.Missed > missedNone*x.Demanded {
			f.Label, f.Short = q.Say("weekend.figure.drinks", "missed", say.Number(missed, 0)), true
		}
		return f
	}
	return keyFigure{Value: "–", Label: q.Say("weekend.figure.no_drinks")}
}

func (v *weekendView) iceFigure(plan *models.Plan, site models.Site, d models.Date) keyFigure {
	q := v.voice
	for _, r := range plan.RunOuts() {
		if site.ServiceDayOf(r.At) == d {
			return keyFigure{Value: q.Clock(r.At), Label: q.Say("weekend.figure.ice_out", "chance", q.AboutChance(r.ChancePct)), Short: true}
		}
	}
	lowest := models.IceLevel{G: math.Inf(1)}
	for _, o := range site.OpenSpans(d) {
		for _, l := range plan.Ice.Levels {
			if o.Contains(l.At) && l.G < lowest.G {
				lowest = l
			}
		}
	}
	if math.IsInf(lowest.G, 1) {
		return keyFigure{Value: "–", Label: q.Say("weekend.figure.no_ice")}
	}
	return keyFigure{Value: q.GlanceMass(lowest.G), Label: q.Say("weekend.figure.ice_lasts", "when", q.Clock(lowest.At))}
}

// bestFix is the first fix of the day's worst warning that has one, else of any day's.
func (v *weekendView) bestFix(plan *models.Plan, site models.Site, d models.Date) *bestFix {
	var other *bestFix
	for _, grade := range gradeOrder {
		for i, w := range plan.Warnings {
			if w.Grade != grade || len(w.Fixes) == 0 {
				continue
			}
			b := &bestFix{Warning: i, Action: w.Fixes[0].Action}
			if site.ServiceDayOf(w.At) == d {
				return b
			}
			if other == nil {
				other = b
			}
		}
	}
	return other
}
