package facts

import (
	"slices"
	"time"

	"hotday/models"
)

// clockOff is the tolerated error of a till's clock. A window that crosses the edge of a day part or of the opening hours by no
// more than this, and by less than half its length, counts entirely on the side where most of it lies; a window that lies outside
// the opening hours by no more than this counts at their edge. It is just under half of a quarter of an hour, so that a quarter
// centred on an edge still has a side.
const clockOff = 7 * time.Minute

// clockWindow is the longest window that is moved to the edge of the opening hours: a clock error does not explain a longer one
// outside them.
const clockWindow = time.Hour

// cell is a span of open time within one day part. Nothing is sold between cells.
type cell struct {
	models.Span
	date models.Date // the service day
	part int         // index of the day part on the day that is split; elsewhere for other days and between parts
}

const elsewhere = -1

// splitting distributes the counts of a service day over its day parts.
type splitting struct {
	g     *gathering
	date  models.Date
	until time.Time
	cells []cell // of the day, and of those around it, since a window may reach over; in order of time
	at    int    // the cell that took the last sale: sales come in order of time

	pieces []cell // scratch
	shares []float64
}

func (g *gathering) splitting(d models.Date, until time.Time) (*splitting, error) {
	s := &splitting{g: g, date: d, until: until}
	site := &g.r.Site
	closed, err := g.closures()
	if err != nil {
		return nil, err
	}
	for _, date := range []models.Date{d.AddDays(-1), d, d.AddDays(1)} {
		for _, o := range site.OpenSpans(date) {
			for _, open := range models.Without(o, closed) {
				if date != d {
					s.cells = append(s.cells, cell{open, date, elsewhere})
					continue
				}
				rest := []models.Span{open}
				for i, p := range site.DayParts {
					span := site.DayPartSpan(d, p)
					if x := open.Overlap(span); !x.Empty() {
						s.cells = append(s.cells, cell{x, date, i})
						rest = beside(rest, span)
					}
				}
				for _, x := range rest {
					s.cells = append(s.cells, cell{x, date, elsewhere})
				}
			}
		}
	}
	slices.SortStableFunc(s.cells, func(a, b cell) int { return a.From.Compare(b.From) })
	return s, nil
}

// closures returns the spans in which the shop was closed outside its weekly hours, read once.
func (g *gathering) closures() ([]models.Span, error) {
	if g.closed == nil {
		list, err := g.st.Events(g.ctx, g.q.Site, time.Time{}, g.q.Now.AddDate(0, 0, 2))
		if err != nil {
			return nil, err
		}
		g.closed = append([]models.Span{}, models.Closures(list)...)
	}
	return g.closed, nil
}

// beside removes a span from each of the spans.
func beside(spans []models.Span, cut models.Span) (out []models.Span) {
	for _, s := range spans {
		out = append(out, models.Without(s, []models.Span{cut})...)
	}
	return out
}

// add distributes a sale over the open time of its window, weighted by the site's intraday curve, leaving out the time in which the
// drink was off sale.
func (s *splitting) add(x *sale, counts map[partDrink]float64) error {
	if c := s.holds(x.span); c != nil && !x.span.To.After(s.until) { // nearly all
		s.count(c.part, x.drink, x.servings, counts)
		return nil
	}
	servings := x.servings
	if x.rest != nil && s.open(x.rest.spans) {
		if x.span != x.rest.spans[0] {
			return nil // counted with the first
		}
		servings = x.rest.servings
	} else if !s.open([]models.Span{x.span}) && (x.window > clockWindow || !s.edge(x.span)) {
		s.outside(x, counts)
		return nil
	}
	if err := s.weigh(x.drink); err != nil {
		return err
	}
	for i, p := range s.pieces {
		n := servings * s.shares[i]
		if n <= 0 {
			continue
		}
		if s.until.Before(p.To) {
			part, err := s.before(p, x.drink)
			if err != nil {
				return err
			}
			n *= part
		}
		s.count(p.part, x.drink, n, counts)
	}
	return nil
}

func (s *splitting) count(part int, drink string, n float64, counts map[partDrink]float64) {
	if part != elsewhere && n > 0 {
		counts[partDrink{s.g.r.Site.DayParts[part].Code, drink}] += n
	}
}

// holds is the cell that contains a span; nil if none does.
func (s *splitting) holds(span models.Span) *cell {
	for range s.cells {
		if s.at == len(s.cells) {
			s.at = 0
		}
		if c := &s.cells[s.at]; !span.From.Before(c.From) && !span.To.After(c.To) {
			return c
		}
		s.at++
	}
	return nil
}

// open returns the pieces of open time that a window covers; false if there are none.
func (s *splitting) open(spans []models.Span) bool {
	s.pieces = s.pieces[:0]
	var long time.Duration
	for _, span := range spans {
		long += span.To.Sub(span.From)
		for _, c := range s.cells {
			if x := c.Overlap(span); !x.Empty() {
				s.pieces = append(s.pieces, cell{x, c.date, c.part})
			}
		}
	}
	pokes := func(c cell) bool { d := c.To.Sub(c.From); return d <= clockOff && 2*d < long }
	first, last := 0, len(s.pieces)
	for last-first > 1 && pokes(s.pieces[first]) {
		first++
	}
	for last-first > 1 && pokes(s.pieces[last-1]) {
		last--
	}
	s.pieces = append(s.pieces[:0], s.pieces[first:last]...)
	return len(s.pieces) > 0
}

// edge moves a window that lies outside the open time, by no more than the tolerated clock error, to the edge of it; false if it
// lies further out.
func (s *splitting) edge(span models.Span) bool {
	nearest, gap := -1, clockOff+1
	for i, c := range s.cells {
		if d := max(c.From.Sub(span.To), span.From.Sub(c.To)); d < gap {
			nearest, gap = i, d
		}
	}
	if nearest < 0 {
		return false
	}
	c := s.cells[nearest]
	if long := span.To.Sub(span.From); long < c.To.Sub(c.From) {
		if span.From.Before(c.From) {
			c.To = c.From.Add(long)
		} else {
			c.From = c.To.Add(-long)
		}
	}
	s.pieces = append(s.pieces[:0], c)
	return true
}

// outside assigns sales outside the opening hours to the day parts at those times.
func (s *splitting) outside(x *sale, counts map[partDrink]float64) {
	site := &s.g.r.Site
	var all time.Duration
	for k := -1; k <= 1; k++ {
		for _, p := range site.DayParts {
			if o := site.DayPartSpan(s.date.AddDays(k), p).Overlap(x.span); !o.Empty() {
				all += o.To.Sub(o.From)
			}
		}
	}
	for i, p := range site.DayParts {
		o := site.DayPartSpan(s.date, p).Overlap(x.span)
		if s.until.Before(o.To) {
			o.To = s.until
		}
		if !o.Empty() {
			s.count(i, x.drink, x.servings*float64(o.To.Sub(o.From))/float64(all), counts)
		}
	}
}

// weigh sets the share of each piece from the site's curve, or in proportion to time without one. Time in which the drink was off
// sale has a share of zero unless the window has no other.
func (s *splitting) weigh(drink string) error {
	s.shares = append(s.shares[:0], 1)
	if len(s.pieces) == 1 {
		return nil
	}
	off, err := s.g.offSpans(drink)
	if err != nil {
		return err
	}
	curve, err := s.g.intraday()
	if err != nil {
		return err
	}
	for _, weight := range []func(cell) float64{
		func(c cell) float64 { return curve.over(c, off) },
		func(c cell) float64 { return minutesOn(c.Span, off) },
		func(c cell) float64 { return c.To.Sub(c.From).Minutes() },
	} {
		s.shares = s.shares[:0]
		sum := 0.0
		for _, p := range s.pieces {
			w := weight(p)
			s.shares = append(s.shares, w)
			sum += w
		}
		if sum > 0 {
			for i := range s.shares {
				s.shares[i] /= sum
			}
			return nil
		}
	}
	return nil // pieces are never empty: the minutes have a sum
}

// before is the fraction of a piece's sales that fell before until.
func (s *splitting) before(p cell, drink string) (float64, error) {
	off, err := s.g.offSpans(drink)
	if err != nil {
		return 0, err
	}
	curve, err := s.g.intraday()
	if err != nil {
		return 0, err
	}
	first := p
	first.To = s.until
	if first.Empty() {
		return 0, nil
	}
	if all := curve.over(p, off); all > 0 {
		return curve.over(first, off) / all, nil
	}
	if all := minutesOn(p.Span, off); all > 0 {
		return minutesOn(first.Span, off) / all, nil
	}
	return first.To.Sub(first.From).Minutes() / p.To.Sub(p.From).Minutes(), nil
}

// minutesOn is the minutes of a span that are not covered by others.
func minutesOn(s models.Span, off []models.Span) float64 {
	n := 0.0
	for _, x := range models.Without(s, off) {
		n += x.To.Sub(x.From).Minutes()
	}
	return n
}
