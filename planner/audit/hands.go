package audit

import (
	"math"
	"slices"
	"sort"
	"time"

	"hotday/models"
)

var handsRules = []Rule{
	{"hands.at_once", "Tasks never need more people at once than are on shift.", handsAtOnce},
	{"hands.free", "The work of each hour fits the time that the people on shift have beside serving.", handsFree},
}

// atWork is when a task keeps its people busy: straining runs by itself most of its time.
func (p *Papers) atWork(t *task) models.Span {
	s := models.Span{From: t.At, To: t.end()}
	if free := t.At.Add(models.Minutes(p.work().Strain)); t.Kind == models.TaskStrain && free.Before(s.To) {
		s.To = free
	}
	return s
}

func handsAtOnce(p *Papers, report report) {
	if len(p.request.Site.People) == 0 {
		return
	}
	for _, t := range p.tasks {
		if !t.works() || t.begun || t.later || t.Hands == 0 || p.atWork(t).Empty() {
			continue
		}
		n, on := 0, p.onShift(t.At)
		for _, o := range p.tasks {
			if o.works() && p.atWork(o).Contains(t.At) {
				n += o.Hands
			}
		}
		// Two people lift even where one is on shift: somebody helps for a moment.
		lift := n == 2 && t.Hands == 2
		if on > 0 && float64(n) > on+1e-9 && !lift {
			report(t.ID, "%d people needed at %s, %g on shift", n, p.clock(t.At), on)
		}
	}
}

// drinksIn is the drinks expected in a span: each row of demand spread over the open time of its day part that is still to come.
func (p *Papers) drinksIn(s models.Span) float64 {
	open := openHours(p.request, dates(p.request))
	within := func(x models.Span) float64 {
		m := 0.0
		for _, o := range open {
			if v := o.Overlap(x); !v.Empty() {
				m += v.To.Sub(v.From).Minutes()
			}
		}
		return m
	}
	n := 0.0
	for _, row := range p.plan.Demand {
		for _, part := range p.request.Site.DayParts {
			if part.Code != row.DayPart {
				continue
			}
			span := p.request.Site.DayPartSpan(row.Date, part)
			if span.From.Before(p.plan.ComputedAt) {
				span.From = p.plan.ComputedAt
			}
			if all := within(span); all > 0 {
				n += row.Mean * within(span.Overlap(s)) / all
			}
		}
	}
	return n
}

// longestBatchMin is the most hand work that one batch needs, min.
func (p *Papers) longestBatchMin() float64 {
	w := p.work()
	most := w.Brew + max(w.BathFlash, w.BathChilled, w.Strain) + w.Store
	for i := range p.request.Brewers {
		if b := &p.request.Brewers[i]; b.ByHand {
			most = max(most, b.BusyMin+max(w.BathFlash, w.BathChilled)+w.Store)
		}
	}
	return most
}

// betweenDrinks is how long a task is that is done between two drinks: beans got out, a reading, something thrown away.
const betweenDrinks = 2 * time.Minute

// handsFree compares hand work and free time over hours from each full and half hour: tasks are moved by some minutes.
func handsFree(p *Papers, report report) {
	if len(p.request.Site.People) == 0 {
		return
	}
	const step = 30 * time.Minute
	var works []models.Span
	var hands []int
	for _, t := range p.tasks {
		if s := p.atWork(t); t.works() && !t.begun && !t.later && t.Hands > 0 && s.To.Sub(s.From) > betweenDrinks {
			works = append(works, p.atWork(t))
			hands = append(hands, t.Hands)
		}
	}
	if len(works) == 0 {
		return
	}
	order := slices.Clone(works)
	sort.Slice(order, func(i, k int) bool { return order[i].From.Before(order[k].From) })
	all := shifts(p.request)
	for at := order[0].From.Truncate(step); at.Before(order[len(order)-1].To); at = at.Add(step) {
		hour := models.Span{From: at, To: at.Add(2 * step)}
		need, onShift := 0.0, 0.0
		for i, w := range works {
			if o := w.Overlap(hour); !o.Empty() {
				need += float64(hands[i]) * o.To.Sub(o.From).Minutes()
			}
		}
		if need == 0 {
			continue
		}
		for _, s := range all {
			for _, here := range p.present {
				if o := s.Overlap(hour).Overlap(here); !o.Empty() {
					onShift += s.people * o.To.Sub(o.From).Minutes()
				}
			}
		}
		free := onShift - p.drinksIn(hour)*p.request.Site.ServeMin
		free = max(free, min(onShift, p.longestBatchMin()))
		if need > free+10+1e-9 {
			report(p.clock(at), "%.0f min of work in the hour, %.0f min free (%.0f min on shift)", need, math.Max(0, free), onShift)
		}
	}
}
