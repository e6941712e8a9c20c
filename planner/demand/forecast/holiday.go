package forecast

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// The keys of holidays in State.effects begin with a byte that no name of an event has. siteHolidays is the effect of a holiday that the
// site has not had yet: the mean of its others.
const (
	holidayPrefix  = "\x00"
	unnamedHoliday = holidayPrefix
	siteHolidays   = holidayPrefix + holidayPrefix
)

// Prior standard deviations of the log ratio of a holiday's demand to the usual. Guesses: common practice, no source.
const (
	siteHolidaySD   = 0.35 // between sites, of the mean over their holidays
	holidaySD       = 0.25 // between the holidays of a site
	seriesHolidaySD = 0.3  // between the drinks and day parts of a site, the same on each holiday
)

// holidayKey normalises the name of a holiday like that of an event.
func holidayKey(name string) string { return holidayPrefix + eventKey(name) }

// Holidays without a name share one effect if there are at least fewAlike of them and their log ratios to the same weekdays around them
// vary with a standard deviation of at most mostUnlike beyond that of other days. Otherwise the learners are left to tell them apart by
// weekday, season and weather.
const (
	fewAlike   = 5
	mostUnlike = 0.45
)

// holidaysAlike reports whether the holidays without a name are alike enough to share an effect.
func holidaysAlike(all []*series) bool {
	total := make([]float64, axisLen(all))
	ordinary := make([]bool, len(total))
	unnamed := make([]bool, len(total))
	for t := range total {
		for _, s := range all {
			if math.IsNaN(s.y[t]) {
				continue
			}
			total[t] += s.y[t]
			ordinary[t] = s.event[t] == "" && s.holidayKey[t] == ""
			unnamed[t] = s.event[t] == "" && s.holidayKey[t] == unnamedHoliday
		}
	}
	sum, square, noise, n := 0.0, 0.0, 0.0, 0.0
	for t := range total {
		if !unnamed[t] {
			continue
		}
		usual, days := 0.0, 0.0
		for d := t - 28; d <= t+28; d += 7 {
			if d >= 0 && d < len(total) && ordinary[d] {
				usual, days = usual+total[d], days+1
			}
		}
		if days == 0 || usual == 0 {
			continue
		}
		d := effectDay{total[t], usual / days}
		x, w := d.logRatio()
		sum, square, noise, n = sum+x, square+x*x, noise+1/w, n+1
	}
	return n >= fewAlike && (square-sum*sum/n)/(n-1)-noise/n <= mostUnlike*mostUnlike
}

// learnHolidays estimates the effects of holidays by partial pooling: each one's days are shrunk towards the mean of the site's
// holidays, and that towards none. Series deviate in the same way on all holidays: an office canteen is empty when the terrace is full.
// The deviations and the effects are estimated in turn.
func (st *State) learnHolidays(all []*series) {
	type row struct {
		series, day   int
		actual, usual float64
	}
	byName := map[string][]row{}
	for i, s := range all {
		for t, y := range s.eventDemand {
			if math.IsNaN(y) || !s.apart[t] || s.event[t] != "" && !st.effects[s.event[t]].Usual {
				continue // beside an event of unknown effect
			}
			if usual, ok := st.usualDemand(s, i, t); ok && usual > 0 {
				byName[s.holidayKey[t]] = append(byName[s.holidayKey[t]], row{i, t, y * s.share[t], usual})
			}
		}
	}
	st.holidayOwn = make([]float64, len(all))
	names := slices.Sorted(maps.Keys(byName))
	for range 6 {
		found := map[string]map[int]*effectDay{}
		for _, name := range names {
			for _, r := range byName[name] {
				addEffectDay(found, name, r.day, r.actual, r.usual*math.Exp(st.holidayOwn[r.series]))
			}
		}
		st.poolHolidays(found)
		sum, weight := make([]float64, len(all)), make([]float64, len(all))
		for _, name := range names {
			h, known := st.effects[name]
			if !known { // it has no name
				h = st.effects[siteHolidays]
			}
			e := h.Log
			for _, r := range byName[name] {
				d := effectDay{r.actual, r.usual * math.Exp(e)}
				x, w := d.logRatio()
				sum[r.series], weight[r.series] = sum[r.series]+w*x, weight[r.series]+w
			}
		}
		for i := range st.holidayOwn {
			st.holidayOwn[i] = sum[i] / (weight[i] + 1/(seriesHolidaySD*seriesHolidaySD))
		}
	}
}

// pooled is the mean log ratio of the days of a holiday, with its variance.
type pooled struct {
	name          string
	log, variance float64
	days          int
}

// poolHolidays estimates the effects from the days of each holiday. Days without a name may be of any holiday, so each counts as one of
// its own.
func (st *State) poolHolidays(found map[string]map[int]*effectDay) {
	var groups []pooled
	for _, name := range slices.Sorted(maps.Keys(found)) {
		own, ownWeight := 0.0, 0.0
		for _, t := range slices.Sorted(maps.Keys(found[name])) {
			x, w := found[name][t].logRatio()
			if name == unnamedHoliday {
				groups = append(groups, pooled{name, x, 1 / w, 1})
			}
			own, ownWeight = own+w*x, ownWeight+w
		}
		if name != unnamedHoliday {
			groups = append(groups, pooled{name, own / ownWeight, 1 / ownWeight, len(found[name])})
		}
	}
	between := holidaysBetween(groups)
	sum, weight, days := 0.0, 1/(siteHolidaySD*siteHolidaySD), 0
	for _, g := range groups {
		w := 1 / (between + g.variance)
		sum, weight, days = sum+w*g.log, weight+w, days+g.days
	}
	bound := func(x float64) float64 { return math.Max(-maxEffect, math.Min(maxEffect, x)) }
	site := effect{Days: days, Log: bound(sum / weight), Error: math.Sqrt(1/weight + between + eventDaySD*eventDaySD)}
	st.effects[siteHolidays] = site
	for _, g := range groups {
		if g.name == unnamedHoliday {
			continue
		}
		share := between / (between + g.variance) // of its own days
		st.effects[g.name] = effect{Days: g.days, Log: bound(site.Log + share*(g.log-site.Log)),
			Error: math.Sqrt(share*g.variance + (1-share)*(1-share)/weight + eventDaySD*eventDaySD)}
	}
}

// holidaysBetween is the variance of the log ratio between the holidays of a site, by moments (DerSimonian & Laird 1986, from memory),
// shrunk towards the prior.
func holidaysBetween(groups []pooled) float64 {
	sum, weight, squares := 0.0, 0.0, 0.0
	for _, g := range groups {
		w := 1 / g.variance
		sum, weight, squares = sum+w*g.log, weight+w, squares+w*w
	}
	q := 0.0
	for _, g := range groups {
		q += (g.log - sum/weight) * (g.log - sum/weight) / g.variance
	}
	n := math.Max(0, float64(len(groups)-1))
	found := 0.0
	if n > 0 {
		found = math.Max(0, (q-n)/(weight-squares/weight))
	}
	const prior = 3 // holidays
	return (prior*holidaySD*holidaySD + n*found) / (prior + n)
}

// holidayOf is the effect of a holiday on a series, −1: one that the state does not know; ok is false if the day has none of its own: it is
// not a holiday, counts as usual, or the state was written by an earlier version, whose learners know holidays.
func (st *State) holidayOf(key string, series int) (e effect, ok bool) {
	if !strings.HasPrefix(key, holidayPrefix) {
		return e, false
	}
	site, ok := st.effects[siteHolidays]
	if !ok || st.effects[key].Usual {
		return e, false
	}
	e, known := st.effects[key]
	if !known { // or without a name
		e = site
	}
	if series >= 0 && series < len(st.holidayOwn) {
		e.Log += st.holidayOwn[series]
	}
	return e, true
}
