package forecast

import (
	"maps"
	"math"
	"slices"
	"strings"
	"unicode"
)

// effect is the estimated effect of days of one name: the log of the ratio of their demand to the usual, and the standard error
// of that of the next such day.
type effect struct {
	Days  int
	Log   float64
	Error float64
	Usual bool // too frequent to have an effect of its own
}

// Prior standard deviations of the log ratio of an event's demand to the usual. Guesses: common practice, no source.
const (
	eventSD    = 0.3 // between events
	eventDaySD = 0.2 // between the days of one event
)

// An event counts as usual if it is on for more than frequentShare of the site's days, or for more than longEventDays in a row
// with gaps of at most maxGapDays closed days: then the recent level reflects it.
const (
	frequentShare = 0.1
	longEventDays = 7
	maxGapDays    = 2
)

// eventKey normalises the name of an event: case, spacing and a trailing year do not matter.
func eventKey(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return unicode.IsSpace(r) || r == ',' })
	if n := len(words); n > 1 && len(words[n-1]) == 4 && strings.Trim(words[n-1], "0123456789") == "" {
		words = words[:n-1]
	}
	return strings.Join(words, " ")
}

// excludeEvents moves the demand of the days of events and holidays from y to eventDemand, except for those that count as usual, which it
// returns: that are frequent, or holidays without a name that differ widely.
func excludeEvents(all []*series) map[string]bool {
	daysOf, known := map[string]int{}, 0
	start, last := map[string]int{}, map[string]int{}
	usual := map[string]bool{}
	for t := range axisLen(all) {
		names := map[string]bool{}
		open := false
		for _, s := range all {
			if math.IsNaN(s.y[t]) {
				continue
			}
			open = true
			names[s.event[t]], names[s.holidayKey[t]] = true, true
		}
		delete(names, "")
		for name := range names {
			daysOf[name]++
			if before, ok := last[name]; !ok || t-before > maxGapDays+1 {
				start[name] = t
			}
			last[name] = t
			if t-start[name] >= longEventDays {
				usual[name] = true
			}
		}
		known += int(indicator(open))
	}
	for name, n := range daysOf {
		if float64(n) > frequentShare*float64(known) {
			usual[name] = true
		}
	}
	if daysOf[unnamedHoliday] > 0 && !holidaysAlike(all) {
		usual[unnamedHoliday] = true
	}
	for _, s := range all {
		for t := range s.y {
			event, holiday := s.event[t], s.holidayKey[t]
			s.apart[t] = holiday != "" && !usual[holiday]
			if s.apart[t] || event != "" && !usual[event] {
				s.eventDemand[t], s.y[t] = s.y[t], math.NaN()
			}
		}
	}
	return usual
}

func axisLen(all []*series) int {
	if len(all) == 0 {
		return 0
	}
	return len(all[0].y)
}

// effectDay is the demand of a day of an event or a holiday over all series, and the demand usual on such a day.
type effectDay struct{ actual, usual float64 }

// logRatio is the log of the ratio of the two, and its weight, the inverse of its variance.
func (d *effectDay) logRatio() (x, weight float64) {
	return math.Log((d.actual + .5) / (d.usual + .5)), 1 / (eventDaySD*eventDaySD + 1/(d.usual+1))
}

// usualDemand is the demand of a series on a day without its event and holiday, by the regression's forecast of the day before, for the
// time it was on sale; ok is false if it is unknown.
func (st *State) usualDemand(s *series, i, t int) (usual float64, ok bool) {
	var x [features]float64
	if !s.fillFeatures(t, t-1, st.climate.Use, x[:]) {
		return 0, false
	}
	return st.learners.Regression.mean(i, st.learners.Scale[i], x[:]) * s.share[t], true // weighted by the selling time, so that half a day counts as half
}

// learnEffects estimates the effects of holidays, then that of each event, by comparing the demand of its days over all series with the
// regression's forecasts of the day before, shrunk towards none when days are few.
func (st *State) learnEffects(all []*series) {
	st.learnHolidays(all)
	byEvent := map[string]map[int]*effectDay{}
	for i, s := range all {
		for t, y := range s.eventDemand {
			if math.IsNaN(y) || s.event[t] == "" || st.effects[s.event[t]].Usual {
				continue
			}
			usual, ok := st.usualDemand(s, i, t)
			if !ok {
				continue
			}
			if e, ok := st.holidayOf(s.holidayKey[t], i); ok {
				usual *= math.Exp(e.Log)
			}
			addEffectDay(byEvent, s.event[t], t, y*s.share[t], usual)
		}
	}
	for name, days := range byEvent {
		e := effect{}
		sum, weight := 0.0, 1/(eventSD*eventSD)
		for _, t := range slices.Sorted(maps.Keys(days)) { // sums must not depend on map order
			if d := days[t]; d.usual > 0 {
				x, w := d.logRatio()
				sum, weight = sum+w*x, weight+w
				e.Days++
			}
		}
		e.Log = math.Max(-maxEffect, math.Min(maxEffect, sum/weight))
		e.Error = math.Sqrt(1/weight + eventDaySD*eventDaySD*indicator(e.Days > 0))
		st.effects[name] = e
	}
}

// maxEffect bounds the log of an effect.
const maxEffect = 2

func addEffectDay(by map[string]map[int]*effectDay, name string, t int, actual, usual float64) {
	days := by[name]
	if days == nil {
		days = map[int]*effectDay{}
		by[name] = days
	}
	d := days[t]
	if d == nil {
		d = &effectDay{}
		days[t] = d
	}
	d.actual, d.usual = d.actual+actual, d.usual+usual
}

// effectOf returns the effect of an event ahead; ok is false if it has none of its own.
func (st *State) effectOf(event string) (e effect, ok bool) {
	key := eventKey(event)
	if key == "" {
		return e, false
	}
	e, known := st.effects[key]
	if !known {
		e.Error = math.Hypot(eventSD, eventDaySD)
	}
	return e, !e.Usual
}

// applyEffects applies the event, the holiday and the share of the selling time to the quantiles of a day, and returns its
// new mean. A shorter day has a larger relative variance from its smaller counts.
func (st *State) applyEffects(p target, q []float64, mean float64) float64 {
	factor, variance := 1.0, 0.0
	if e, ok := st.effectOf(p.event); ok {
		factor, variance = math.Exp(e.Log), e.Error*e.Error
	}
	if e, ok := st.holidayOf(p.s.holidayKey[p.t], p.i); ok {
		factor *= math.Exp(e.Log)
		variance += e.Error * e.Error
	} else if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		variance += holidaySD * holidaySD
	}
	level, unsure := st.shiftOf(p.s.key, p.t+p.s.since)
	variance += unsure
	factor *= p.share * level
	if mean > 0 {
		variance += (1/(p.share*level) - 1) / mean
	}
	if variance != 0 {
		addRelativeVariance(q, variance)
	}
	for l := range q {
		q[l] *= factor
	}
	return mean * factor
}

// effectNotes lists the effects that applyEffects applies.
func (st *State) effectNotes(p target) (notes []Note) {
	if e, ok := st.effectOf(p.event); ok {
		notes = append(notes, Note{Code: EventEffect, Event: strings.TrimSpace(p.event), Days: e.Days, Effect: math.Expm1(e.Log)})
	}
	if e, ok := st.holidayOf(p.s.holidayKey[p.t], p.i); ok && e.Days > 0 {
		notes = append(notes, Note{Code: HolidayEffect, Effect: math.Expm1(e.Log)})
	} else if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		notes = append(notes, Note{Code: UnknownHoliday})
	}
	for _, x := range st.shifts {
		if x.of(p.s.key) && st.last-x.Day < toldShift && math.Abs(math.Expm1(x.Log)) >= minEffect {
			notes = append(notes, Note{Code: ShiftEffect, Date: st.first.AddDays(x.Day), Effect: math.Expm1(x.Log)})
		}
	}
	if math.Abs(p.share-1) >= minEffect {
		notes = append(notes, Note{Code: OpenHours, Effect: p.share - 1})
	}
	return notes
}
