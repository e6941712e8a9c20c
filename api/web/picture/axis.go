// Package picture draws plans: one axis of time with heat and demand above, the tide of ice in the middle, batches and loads
// below. It is pure: a request and its plan go in, SVG comes out. Colours and type belong to the style sheet; the drawing names
// classes only, and says in words whatever a colour says.
package picture

import (
	"sort"
	"time"

	"hotday/models"
)

// nightWeight is how wide an hour is drawn in which nobody is in the shop, against one in which somebody is.
const nightWeight = 0.3

// Axis lays instants out from left to right. Hours outside the shop's working hours are drawn narrower.
type Axis struct {
	From, To time.Time
	at       []time.Time
	x        []float64
	People   []models.Span // working hours inside [From, To], in order
}

// NewAxis lays [from, to] out between x0 and x1.
func NewAxis(site models.Site, from, to time.Time, x0, x1 float64) Axis {
	a := Axis{From: from, To: to}
	loc := site.Location()
	window := models.Span{From: from, To: to}
	last := models.DateOf(to, loc)
	for d := models.DateOf(from, loc).AddDays(-1); d <= last; d = d.AddDays(1) {
		for _, sp := range site.PeopleSpans(d) {
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

// X returns where an instant lies; instants outside the axis lie on its ends.
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

// Holds reports whether an instant lies on the axis.
func (a Axis) Holds(t time.Time) bool { return !t.Before(a.From) && !t.After(a.To) }

// Left and Right are the ends.
func (a Axis) Left() float64  { return a.x[0] }
func (a Axis) Right() float64 { return a.x[len(a.x)-1] }

// working reports whether somebody is in the shop.
func (a Axis) working(t time.Time) bool {
	for _, sp := range a.People {
		if sp.Contains(t) {
			return true
		}
	}
	return false
}
