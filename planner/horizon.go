package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// horizon is the time a plan covers, as consecutive slots of equal length, numbered from 0.
type horizon struct {
	site  *models.Site
	loc   *time.Location
	start time.Time // of slot 0: now, rounded up
	slot  time.Duration
	n     int
	// days are the service days: those between now and the plan whose demand the request states, then the planned days. What sells
	// on the former uses up stock, ice and water, and nothing is brewed for it.
	days   []models.Date
	before int // number of days before the plan
	sold   int // slot from which on all sales are those of planned days

	open    []models.Span // opening hours without closures
	closed  []models.Span // by events
	people  []models.Span // when somebody is there: opening hours and set-up time before and after, within the shifts of people listed
	begin   []models.Span // of that, when tasks may begin: without attention of 0 starts
	windows []window      // of the day parts that are not over, in order of time
}

// window is a day part of a planned day, or of a day before whose demand is known. A planned part's slots start where the window before ends, so that quotas cover the whole day.
type window struct {
	date     models.Date
	part     *models.DayPart
	span     models.Span
	from, to int // slots [from, to): from the end of the window before, the first from 0
}

// Limits of the batch solver. Longer horizons get coarser slots, multiples of the site's.
const (
	maxSlots = 2800
	maxCells = 56000 // slots × beverages
)

func newHorizon(r *models.PlanRequest) *horizon {
	h := &horizon{site: &r.Site, loc: r.Site.Location(), slot: time.Duration(r.Site.SlotMin) * time.Minute}
	first := r.From
	for i := range r.Demand {
		first = min(first, r.Demand[i].Date)
	}
	for i := range r.Forecast {
		first = min(first, r.Forecast[i].Date)
	}
	h.before = first.DaysUntil(r.From)
	for d := range h.before + r.Days {
		h.days = append(h.days, first.AddDays(d))
	}
	end := r.Site.DayEnd(h.days[len(h.days)-1])
	for _, coarser := range []int{1, 15, 30, 60} {
		h.slot = max(h.slot, time.Duration(coarser)*time.Minute)
		h.start = roundUp(r.Now, h.loc, h.slot)
		h.n = int((max(0, end.Sub(h.start)) + h.slot - 1) / h.slot)
		if h.n <= maxSlots && h.n*len(r.Beverages) <= maxCells {
			break
		}
	}
	h.openSpans(r)
	h.dayParts()
	return h
}

// roundUp returns the first slot boundary at or after t; boundaries count from local midnight.
func roundUp(t time.Time, loc *time.Location, slot time.Duration) time.Time {
	midnight := models.DateOf(t, loc).At(0, loc)
	n := (t.Sub(midnight) + slot - 1) / slot
	return midnight.Add(n * slot)
}

func (h *horizon) openSpans(r *models.PlanRequest) {
	first := models.DateOf(h.start, h.loc).AddDays(-1)
	last := h.days[len(h.days)-1]
	h.closed = models.Closures(r.Events)
	for d := first; d <= last.AddDays(1); d = d.AddDays(1) {
		for _, s := range r.Site.OpenSpans(d) {
			if d > last { // the day after: only its set-up time, where that reaches back into the horizon
				s.To = s.From
			}
			h.open = append(h.open, models.Without(s, h.closed)...)
		}
	}
	pad := time.Duration(r.Site.SetupMin * float64(time.Minute))
	for _, s := range h.open {
		p := models.Span{From: s.From.Add(-pad), To: s.To.Add(pad)}
		if s.Empty() {
			p.To = s.From
		}
		if k := len(h.people); k > 0 && !p.From.After(h.people[k-1].To) {
			if p.To.After(h.people[k-1].To) {
				h.people[k-1].To = p.To
			}
			continue
		}
		h.people = append(h.people, p)
	}
	h.people = h.site.Attended(h.people)
	shut := models.NothingBegins(r.Attention)
	for _, p := range h.people {
		h.begin = append(h.begin, models.Without(p, shut)...)
	}
}

func (h *horizon) dayParts() {
	for _, d := range h.days {
		for i := range h.site.DayParts {
			p := &h.site.DayParts[i]
			span := h.site.DayPartSpan(d, *p)
			if span.To.After(h.start) {
				h.windows = append(h.windows, window{date: d, part: p, span: span})
			}
		}
	}
	sort.SliceStable(h.windows, func(a, b int) bool { return h.windows[a].span.To.Before(h.windows[b].span.To) })
	from := 0
	for i := range h.windows {
		w := &h.windows[i]
		if w.date < h.days[h.before] { // no slots of its own: its ice and water are those of the first planned part
			h.sold = max(h.sold, min(h.n, h.slotFrom(w.span.To)))
			continue
		}
		w.from, w.to = from, max(from, min(h.n, h.slotFrom(w.span.To)))
		from = w.to
	}
}

// at returns the start of slot i; at(n) is the end of the horizon.
func (h *horizon) at(i int) time.Time { return h.start.Add(time.Duration(i) * h.slot).In(h.loc) }

// slotOf returns the slot containing t; it may be negative, or n and more.
func (h *horizon) slotOf(t time.Time) int {
	d := t.Sub(h.start)
	if d < 0 {
		return -int((-d + h.slot - 1) / h.slot)
	}
	return int(d / h.slot)
}

// slotFrom returns the first slot that starts at or after t; it may be negative.
func (h *horizon) slotFrom(t time.Time) int {
	d := t.Sub(h.start)
	if d < 0 {
		return -int(-d / h.slot)
	}
	return int((d + h.slot - 1) / h.slot)
}

// peopleThrough reports whether the same people are there at both ends of a span and all the time between, and for a time after it.
func (h *horizon) peopleThrough(s models.Span, after time.Duration) bool {
	i := sort.Search(len(h.people), func(i int) bool { return h.people[i].To.After(s.From) })
	return i < len(h.people) && h.people[i].Contains(s.From) && h.people[i].Contains(s.To) && !s.To.Add(after).After(h.people[i].To)
}

// peopleFor reports whether a piece of work may begin, and somebody is there for the whole of it.
func (h *horizon) peopleFor(t time.Time, work time.Duration) bool {
	i := sort.Search(len(h.people), func(i int) bool { return h.people[i].To.After(t) })
	return h.mayBegin(t) && !t.Add(work).After(h.people[i].To)
}

// mayBegin reports whether somebody is there and tasks may begin.
func (h *horizon) mayBegin(t time.Time) bool {
	i := sort.Search(len(h.begin), func(i int) bool { return h.begin[i].To.After(t) })
	return i < len(h.begin) && h.begin[i].Contains(t)
}

// edge is how long after opening and before closing a time counts as at opening or closing.
const edge = 30 * time.Minute

// atEdge reports whether t is at opening or closing: the shop is closed within half an hour of it.
func (h *horizon) atEdge(t time.Time) bool {
	for _, o := range h.open {
		if !t.Before(o.From.Add(edge)) && t.Before(o.To.Add(-edge)) {
			return false
		}
	}
	return true
}

// lastPeople returns the last slot start at or before t when a piece of work may begin; ok is false if there is none in the horizon.
func (h *horizon) lastPeople(t time.Time, work time.Duration) (time.Time, bool) {
	for i := min(h.slotOf(t), h.n-1); i >= 0; i-- {
		if at := h.at(i); h.peopleFor(at, work) {
			return at, true
		}
	}
	return time.Time{}, false
}

// windowAt returns the window of slot i; slots after the last part belong to the last window. It is −1 without windows.
func (h *horizon) windowAt(i int) int {
	for k := range h.windows {
		if i < h.windows[k].to {
			return k
		}
	}
	return len(h.windows) - 1
}

func (h *horizon) hours() float64 { return h.slot.Hours() }
