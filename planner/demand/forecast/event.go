package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
)

// effect is what days of one name have taught: the logarithm of their demand over what such days usually have, and the standard
// error of it for the next such day.
type effect struct {
	Days  int
	Log   float64
	Error float64
	Usual bool // so frequent that it is part of what is usual: no effect of its own
}

// What is assumed of an event before anything is known of it, and of the days of one: standard deviations of the logarithm of
// their demand over the usual. Guesses: common practice, no source.
const (
	eventSpread    = 0.3
	eventDaySpread = 0.2
	holidaySpread  = 0.2 // of a holiday, where none is known
)

// An event is part of what is usual where it is on for more than a share of a site's days, or for longer than so many days in a row,
// two closed days between two at most: then the recent level tells of it.
const (
	frequent   = 0.1
	longEvent  = 7
	closedDays = 2
)

// eventKey is what events of the same name share: neither case, nor spaces, nor the year that ends it matter.
func eventKey(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return unicode.IsSpace(r) || r == ',' })
	if n := len(words); n > 1 && len(words[n-1]) == 4 && strings.Trim(words[n-1], "0123456789") == "" {
		words = words[:n-1]
	}
	return strings.Join(words, " ")
}

// setApart takes the demand of days with an event out of what is usual, and returns the events that are so frequent that theirs
// stays.
func setApart(all []*series) map[string]bool {
	on, known := map[string]int{}, 0
	begun, last := map[string]int{}, map[string]int{}
	usual := map[string]bool{}
	for t := range axisOf(all) {
		names := map[string]bool{}
		any := false
		for _, s := range all {
			if math.IsNaN(s.y[t]) {
				continue
			}
			any = true
			if s.event[t] != "" {
				names[s.event[t]] = true
			}
		}
		for name := range names {
			on[name]++
			if before, ok := last[name]; !ok || t-before > closedDays+1 {
				begun[name] = t
			}
			last[name] = t
			if t-begun[name] >= longEvent {
				usual[name] = true
			}
		}
		known += int(indicator(any))
	}
	for name, n := range on {
		if float64(n) > frequent*float64(known) {
			usual[name] = true
		}
	}
	for _, s := range all {
		for t, name := range s.event {
			if name != "" && !usual[name] {
				s.asked[t], s.y[t] = s.y[t], math.NaN()
			}
		}
	}
	return usual
}

func axisOf(all []*series) int {
	if len(all) == 0 {
		return 0
	}
	return len(all[0].y)
}

// learnEffects compares the days of events with what the regression says of them as it saw them coming. Days of one name, over all
// series that it touched, have one effect, drawn to none where they are few.
func (st *State) learnEffects(all []*series) {
	type day struct{ asked, usual float64 }
	on := map[string]map[int]*day{}
	for i, s := range all {
		for t, y := range s.asked {
			if math.IsNaN(y) {
				continue
			}
			var x [features]float64
			if !s.fill(t, t-1, st.climate.Use, x[:]) {
				continue
			}
			days := on[s.event[t]]
			if days == nil {
				days = map[int]*day{}
				on[s.event[t]] = days
			}
			d := days[t]
			if d == nil {
				d = &day{}
				days[t] = d
			}
			// In what was really sold, so that a half day counts as one.
			d.asked += y * s.share[t]
			d.usual += st.fitted.Regression.mean(i, st.fitted.Scale[i], x[:]) * s.share[t]
		}
	}
	for name, days := range on {
		e := effect{}
		sum, weight := 0.0, 1/(eventSpread*eventSpread)
		order := make([]int, 0, len(days))
		for t := range days {
			order = append(order, t)
		}
		slices.Sort(order) // sums do not depend on the order of a map
		for _, t := range order {
			d := days[t]
			if d.usual <= 0 {
				continue
			}
			w := 1 / (eventDaySpread*eventDaySpread + 1/(d.usual+1))
			sum += w * math.Log((d.asked+.5)/(d.usual+.5))
			weight += w
			e.Days++
		}
		e.Log = math.Max(-2, math.Min(2, sum/weight))
		e.Error = math.Sqrt(1/weight + eventDaySpread*eventDaySpread*indicator(e.Days > 0))
		st.effects[name] = e
	}
}

// effectOf is that of an event ahead; ok is false where it has none of its own.
func (st *State) effectOf(event string) (e effect, ok bool) {
	key := eventKey(event)
	if key == "" {
		return e, false
	}
	e, known := st.effects[key]
	if !known {
		e.Error = math.Hypot(eventSpread, eventDaySpread)
	}
	return e, !e.Usual
}

// moved applies what is said of the day besides: its event, a holiday where none is known yet, and how much of the usual selling
// time it has. Less time makes small counts of a wider relative range.
func (st *State) moved(p place, q []float64, mean float64) float64 {
	by, more := 1.0, 0.0
	if e, ok := st.effectOf(p.event); ok {
		by, more = math.Exp(e.Log), e.Error*e.Error
	}
	if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		more += holidaySpread * holidaySpread
	}
	by *= p.share
	if mean > 0 {
		more += (1/p.share - 1) / mean
	}
	if more != 0 {
		widenBy(q, more)
	}
	for l := range q {
		q[l] *= by
	}
	return mean * by
}

// besides says what an event, a holiday and the opening hours make of a day.
func (st *State) besides(p place) (words []string) {
	if e, ok := st.effectOf(p.event); ok {
		name := strings.TrimSpace(p.event)
		switch {
		case e.Days == 0:
			words = append(words, name+": no such day is known, so its effect is not, and the range is widened")
		case e.Days == 1:
			words = append(words, fmt.Sprintf("%+.0f %% for %s, learnt from one such day and drawn to none", 100*math.Expm1(e.Log), name))
		default:
			words = append(words, fmt.Sprintf("%+.0f %% for %s, learnt from %d such days", 100*math.Expm1(e.Log), name, e.Days))
		}
	}
	if p.s.holiday[p.t] > 0 && st.holidays == 0 {
		words = append(words, "no holiday is known from the past: its effect is not, and the range is widened")
	}
	if math.Abs(p.share-1) >= least {
		words = append(words, fmt.Sprintf("times %.2f for other opening hours than usual", p.share))
	}
	return words
}
