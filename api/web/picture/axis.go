// Package picture draws plans as SVG: a time axis with temperature and demand above, the ice level in the middle, batches and loads
// below. It is pure. Colours and fonts come from the style sheet by class name; everything shown by colour is also written as text.
package picture

import (
	"sort"
	"time"

	"hotday/models"
)

// nightWeight is the width of an hour in which nobody works, relative to a working hour.
const nightWeight = 0.3

// Axis maps time to x. Hours outside working hours are narrower.
type Axis struct {
	From, To time.Time
	at       []time.Time
	x        []float64
	People   []models.Span // working hours inside [From, To], in order
}

// NewAxis maps [from, to] to [x0, x1].
func NewAxis(site models.Site, from, to time.Time, x0, x1 float64) Axis {
	a := Axis{From: from, To: to}
	loc := site.Location()
	window := models.Span{From: from, To: to}
	last := models.DateOf(to, loc)
	for d := models.DateOf(from, loc).AddDays(-1); d <= last; d = d.AddDays(1) {
		for _, sp := range site.StaffSpans(d) {
			if sp = sp.Overlap(window); !sp.Empty() {
				a.People = append(a.People, sp)
			}
		}
	}
	sort.Slice(a.People, func(i, j int) bool { return a.People[i].From.Before(a.People[j].From) })
	width := 0.0
	stop := func(t time.Time, weight float64) {
		if n := len(a.at); n > 0 {
			if !t.After(a.at[n-1]) {
				return
			}
			width += weight * t.Sub(a.at[n-1]).Hours()
		}
		a.at, a.x = append(a.at, t), append(a.x, width)
	}
	stop(from, 0)
	for _, sp := range a.People {
		stop(sp.From, nightWeight)
		stop(sp.To, 1)
	}
	stop(to, nightWeight)
	for i := range a.x {
		if width > 0 {
			a.x[i] *= (x1 - x0) / width
		}
		a.x[i] += x0
	}
	return a
}

// X returns the position of t, clamped to the axis.
func (a Axis) X(t time.Time) float64 {
	n := len(a.at)
	i := sort.Search(n, func(i int) bool { return a.at[i].After(t) })
	switch {
	case i == 0:
		return a.x[0]
	case i == n:
		return a.x[n-1]
	}
	part := float64(t.Sub(a.at[i-1])) / float64(a.at[i].Sub(a.at[i-1]))
	return a.x[i-1] + part*(a.x[i]-a.x[i-1])
}

// Holds reports whether t is on the axis.
func (a Axis) Holds(t time.Time) bool { return !t.Before(a.From) && !t.After(a.To) }

// Left and Right are the ends.
func (a Axis) Left() float64  { return a.x[0] }
func (a Axis) Right() float64 { return a.x[len(a.x)-1] }

// working reports whether t is within working hours.
func (a Axis) working(t time.Time) bool {
	for _, sp := range a.People {
		if sp.Contains(t) {
			return true
		}
	}
	return false
}
