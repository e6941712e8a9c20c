package planner

import (
	"math"
	"slices"
	"time"

	"hotday/models"
)

// Looks into an ice bin, at most two a day: when people arrive, and before the peak, when the most ice must be in it.
const (
	looksADay       = 2             // at most, in each of a day's opening hours
	leastCheckG     = 1000          // of ice, below which nobody needs to look
	leastCheckShare = 0.1           // of the bin, likewise
	peakAfter       = 2 * time.Hour // from the first look to the second at least
	peakBefore      = 1 * time.Hour // of closing
	quarterSlack    = 0.2           // of a quarter, by which the eye may misjudge the level
	checkMinute     = 30            // looks are on the full and the half hour where the slots allow
	atOpening       = 2 * time.Hour // from opening on, a first look comes too late
)

// binChecks returns the looks into the ice bin of one kind of ice: its level must be at least that from which nothing runs short later.
// There are none without an ice machine that could fail.
func (dr *draft) binChecks(s *iceStream, bathIce bool) (out []models.IceQuota) {
	if len(s.makers) == 0 || s.capacity <= 0 {
		return nil
	}
	need, required := s.needed(), s.requirement()
	counted := 0 // slots from which on the next look counts what is made
	looks := map[models.Date][]int{}
	for _, o := range dr.h.open {
		date := dr.req.Site.ServiceDayOf(o.From)
		looks[date] = append(looks[date], dr.checkSlots(o, need)...)
	}
	for _, date := range dr.daysWithSheet() {
		for _, t := range mostNeeded(looks[date], need, looksADay*len(dr.req.Site.OpenSpans(date))) {
			q, ok := dr.binCheck(s, t, need[t])
			if !ok {
				continue
			}
			q.Date, q.BathIce, q.From = date, bathIce, dr.h.at(counted)
			for ; counted < t; counted++ {
				q.MakeG += required[counted]
			}
			out = append(out, q)
		}
	}
	return out
}

// mostNeeded returns at most n of a day's looks, in order: the first, and those for the most ice. A closure may split opening hours.
func mostNeeded(slots []int, need []float64, n int) []int {
	slots = slices.Compact(slices.Sorted(slices.Values(slots)))
	for len(slots) > max(0, n) {
		least := len(slots) - 1
		for k := least - 1; k > 0; k-- {
			if need[slots[k]] < need[slots[least]] {
				least = k
			}
		}
		slots = slices.Delete(slots, least, least+1)
	}
	return slots
}

// checkSlots returns the slots at which to look into an ice bin in a span of opening hours.
func (dr *draft) checkSlots(open models.Span, need []float64) (out []int) {
	h := dr.h
	work := models.Minutes(dr.req.Site.Work().Count)
	first := max(0, h.slotFrom(open.From.Add(-models.Minutes(dr.req.Site.SetupMin))))
	for first < h.n && !h.peopleFor(h.at(first), work) {
		first++
	}
	last := open.To.Add(-peakBefore)
	peakFrom := h.at(first).Add(peakAfter)
	if first < h.n && h.at(first).Before(open.From.Add(atOpening)) {
		out = append(out, first)
	} else {
		peakFrom = h.at(first)
	}
	peak := -1
	for _, anyMinute := range []bool{false, true} {
		for t := max(0, h.slotFrom(peakFrom)); t < h.n && h.at(t).Before(last); t++ {
			if (anyMinute || h.at(t).Minute()%checkMinute == 0) && h.peopleFor(h.at(t), work) && (peak < 0 || need[t] > need[peak]) {
				peak = t
			}
		}
		if peak >= 0 {
			break
		}
	}
	if peak >= 0 {
		out = append(out, peak)
	}
	return out
}

// binCheck states the level of an ice bin at the start of slot t; ok is false if too little is needed to look.
func (dr *draft) binCheck(s *iceStream, t int, needG float64) (models.IceQuota, bool) {
	level := s.opening
	if t > 0 {
		level = s.run.level[t-1]
		if s == dr.drink {
			level = dr.iceAfter(t - 1).P50
		}
	}
	g := weighingOf(&dr.req.Site).BathIce(needG)
	if g > level { // rounded up beyond the curve
		g = math.Floor(level/100+1e-9) * 100
	}
	if g < leastCheckG || g < leastCheckShare*s.capacity {
		return models.IceQuota{}, false
	}
	quarter := s.capacity / 4
	quarters := math.Ceil(g/quarter - quarterSlack)
	if quarters*quarter > level { // the plan does not expect that much
		quarters = math.Floor(level/quarter + quarterSlack)
	}
	q := models.IceQuota{Due: dr.h.at(t), Maker: s.makers[0].code, Loads: []models.IceLoad{}, LevelG: g, Quarters: int(min(max(quarters, 1), 4)), BinG: s.capacity}
	if w := dr.h.windowAt(t); w >= 0 {
		q.DayPart = dr.h.windows[w].part.Code
	}
	for _, m := range s.makers {
		q.Makers = append(q.Makers, m.code)
	}
	return q, true
}

// daysWithSheet are the days whose routine the plan asks for: its own and the one before. Others before them have sheets of their own.
func (st *setting) daysWithSheet() []models.Date {
	k := slices.IndexFunc(st.h.days, func(d models.Date) bool { return d >= st.req.From.AddDays(-1) })
	if k < 0 {
		return nil
	}
	return st.h.days[k:]
}
