package forecast

import (
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
	holidaySD  = 0.2 // of a holiday when the history has none
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

// excludeEvents moves the demand of event days from y to eventDemand, except for events that are frequent enough to count as
// usual, which it returns.
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
			if s.event[t] != "" {
				names[s.event[t]] = true
			}
		}
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
	for _, s := range all {
		for t, name := range s.event {
			if name != "" && !usual[name] {
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

// learnEffects estimates the effect of each event by comparing the demand of its days over all series with the regression's
// forecasts of the day before, shrunk towards none when days are few.
func (st *State) learnEffects(all []*series) {
	type day struct{ actual, usual float64 }
	byEvent := map[string]map[int]*day{}
	for i, s := range all {
		for t, y := range s.eventDemand {
			if math.IsNaN(y) {
				continue
			}
			var x [features]float64
			if !s.fillFeatures(t, t-1, st.climate.Use, x[:]) {
				continue
			}
			days := byEvent[s.event[t]]
			if days == nil {
				days = map[int]*day{}
				byEvent[s.event[t]] = days
			}
			d := days[t]
			if d == nil {
				d = &day{}
				days[t] = d
			}
			// Weighted by the selling time, so that half a day counts as half.
			d.actual += y * s.share[t]
			d.usual += st.learners.Regression.mean(i, st.learners.Scale[i], x[:]) * s.share[t]
		}
	}
	for name, days := range byEvent {
		e := effect{}
		sum, weight := 0.0, 1/(eventSD*eventSD)
		order := make([]int, 0, len(days))
		for t := range days {
			order = append(order, t)
		}
		slices.Sort(order) // sums must not depend on map order
		for _, t := range order {
			d := days[t]
			if d.usual <= 0 {
				continue
			}
			w := 1 / (eventDaySD*eventDaySD + 1/(d.usual+1))
			sum += w * math.Log((d.actual+.5)/(d.usual+.5))
			weight += w
			e.Days++
		}
		e.Log = math.Max(-2, math.Min(2, sum/weight))
		e.Error = math.Sqrt(1/weight + eventDaySD*eventDaySD*indicator(e.Days > 0))
		st.effects[name] = e
	}
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

// applyEffects applies the event, a first holiday and the share of the selling time to the quantiles of a day, and returns its
// new mean. A shorter day has a larger relative variance from its smaller counts.
func (st *State) applyEffects(p target, q []float64, mean float64) float64 {
	factor, variance := 1.0, 0.0
	if e, ok := st.effectOf(p.event); ok {
		factor, variance = math.Exp(e.Log), e.Error*e.Error
	}
	if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		variance += holidaySD * holidaySD
	}
	factor *= p.share
	if mean > 0 {
		variance += (1/p.share - 1) / mean
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
	if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		notes = append(notes, Note{Code: UnknownHoliday})
	}
	if math.Abs(p.share-1) >= minEffect {
		notes = append(notes, Note{Code: OpenHours, Effect: p.share - 1})
	}
	return notes
}
