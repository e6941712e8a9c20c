package facts

import (
	"math"
	"slices"
	"sort"
	"time"

	"hotday/models"
	"hotday/planner/demand"
)

// The site's intraday curve: sales of all drinks by slot of the service day, from the windows of the last weeks that are short
// enough. A weekday with enough sales has its own curve, the others the mean curve of all days; with too few sales for either,
// sales are assumed to be uniform.
const (
	curveWeeks    = 8
	curveSlotMin  = 15
	curveSlots    = 2 * 24 * 60 / curveSlotMin // from the midnight that a service day starts with, beyond the next
	curveWindow   = time.Hour                  // the longest window used
	curveServings = 50                         // the fewest servings for a curve
)

// curve is servings by slot for each weekday; nil if sales are assumed to be uniform.
type curve struct {
	loc  *time.Location
	rate [7][]float64
}

// intraday is the site's curve, computed on first use: most counts do not need it.
func (g *gathering) intraday() (*curve, error) {
	if g.curve != nil {
		return g.curve, nil
	}
	loc := g.r.Site.Location()
	first := g.today.AddDays(-7 * curveWeeks)
	list, _, err := g.sales(first.At(0, loc), g.q.Now)
	if err != nil {
		return nil, err
	}
	days := serviceDays(&g.r.Site, first, 7*curveWeeks+1)
	var own [7][]float64
	for w := range own {
		own[w] = make([]float64, curveSlots)
	}
	edge := outlierLimit(list)
	for _, s := range list {
		if s.window > curveWindow || s.servings <= 0 {
			continue
		}
		s.servings = min(s.servings, edge)
		i := sort.Search(len(days), func(i int) bool { return days[i].From.After(s.span.From) }) - 1
		if i < 0 || !s.span.From.Before(days[i].To) {
			continue
		}
		per := s.servings / float64(s.span.To.Sub(s.span.From))
		slots(days[i].date, s.span, loc, func(slot int, d time.Duration) { own[days[i].date.Weekday()][slot] += per * float64(d) })
	}
	g.curve = &curve{loc: loc, rate: withFallback(own)}
	return g.curve, nil
}

// outlierLimit is the number of servings in a window above which a count is taken for an error: demand.OutlierFactor times the 98th
// percentile of the short windows; infinite with fewer than ten of them.
func outlierLimit(list []sale) float64 {
	var known []float64
	for _, s := range list {
		if s.window <= curveWindow && s.servings > 0 {
			known = append(known, s.servings)
		}
	}
	if len(known) < 10 {
		return math.Inf(1)
	}
	slices.Sort(known)
	return demand.OutlierFactor * known[min(len(known)-2, len(known)*98/100)]
}

// withFallback replaces the curves of weekdays with too few sales by the mean curve of all days.
func withFallback(own [7][]float64) (out [7][]float64) {
	var total float64
	var sums [7]float64
	var all []float64
	counted := 0.0
	for w, slots := range own {
		for _, n := range slots {
			sums[w] += n
		}
		total += sums[w]
		if sums[w] > 0 {
			counted++
		}
	}
	if total >= curveServings {
		all = make([]float64, curveSlots)
		for _, slots := range own {
			for i, n := range slots {
				all[i] += n / counted
			}
		}
	}
	for w := range own {
		out[w] = all
		if sums[w] >= curveServings {
			out[w] = own[w]
		}
	}
	return out
}

// over is the curve's servings in a cell without the spans off sale; 0 if the site has no curve.
func (c *curve) over(x cell, off []models.Span) float64 {
	rate := c.rate[x.date.Weekday()]
	if rate == nil {
		return 0
	}
	n := 0.0
	for _, s := range models.Without(x.Span, off) {
		slots(x.date, s, c.loc, func(slot int, d time.Duration) { n += rate[slot] * d.Minutes() / curveSlotMin })
	}
	return n
}

// slots visits the slots of a service day that a span overlaps, with the time in each. Slots are in local time: an hour repeated
// when the clocks go back counts twice in the same slots.
func slots(d models.Date, s models.Span, loc *time.Location, visit func(slot int, d time.Duration)) {
	year, month, day := d.At(0, loc).Date()
	for at := s.From; at.Before(s.To); {
		local := at.In(loc)
		minute := local.Hour()*60 + local.Minute()
		if y, m, n := local.Date(); n != day || m != month || y != year {
			minute += 24 * 60
		}
		next := at.Truncate(time.Minute).Add(time.Duration(curveSlotMin-minute%curveSlotMin) * time.Minute)
		if next.After(s.To) {
			next = s.To
		}
		if slot := minute / curveSlotMin; slot < curveSlots {
			visit(slot, next.Sub(at))
		}
		at = next
	}
}

// datedSpan is the time that belongs to a service day.
type datedSpan struct {
	models.Span
	date models.Date
}

// serviceDays returns n consecutive service days from first, without gaps: each lasts until the next midnight or until closing,
// whichever is later.
func serviceDays(site *models.Site, first models.Date, n int) []datedSpan {
	loc := site.Location()
	out := make([]datedSpan, n)
	from := first.At(0, loc)
	for i := range out {
		d := first.AddDays(i)
		to := d.At(24*60, loc)
		for _, o := range site.OpenSpans(d) {
			if o.To.After(to) {
				to = o.To
			}
		}
		out[i] = datedSpan{models.Span{From: from, To: to}, d}
		from = to
	}
	return out
}
