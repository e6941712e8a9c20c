package facts

import (
	"slices"
	"time"

	"hotday/models"
)

// clockOff is how far a till's clock may be off: a window that reaches no more than this, and less than half of itself, over the
// edge of a day part or of the opening hours counts where it mostly lies, and one that lies no more than this outside the opening
// hours counts at their edge. Just under half of a quarter of an hour: a quarter that lies astride an edge still tells its side.
const clockOff = 7 * time.Minute

// clockWindow is the longest window that is moved to the edge of the opening hours: where a longer one lies outside them, no
// clock is to blame.
const clockWindow = time.Hour

// cell is open time within one day part: nothing is sold between cells.
type cell struct {
	models.Span
	date models.Date // the service day
	part int         // index of the day part on the day that is split; elsewhere for other days and between parts
}

const elsewhere = -1

// splitting spreads the counts of a service day over its parts.
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

// closures are the spans in which the shop was closed out of turn, read once.
func (g *gathering) closures() ([]models.Span, error) {
	if g.closed == nil {
		list, err := g.st.Events(g.ctx, g.q.Site, time.Time{}, g.q.Now.AddDate(0, 0, 2))
		if err != nil {
			return nil, err
		}
		g.closed = []models.Span{}
		for _, e := range list {
			if e.Closed {
				g.closed = append(g.closed, models.Span{From: e.From, To: e.To})
			}
		}
	}
	return g.closed, nil
}

// beside takes a cut out of each span.
func beside(spans []models.Span, cut models.Span) (out []models.Span) {
	for _, s := range spans {
		out = append(out, models.Without(s, []models.Span{cut})...)
	}
	return out
}

// add counts a sale where it was sold: in the open time of its window, spread over it as the site sells through such a day, the
// time in which the drink was off sale left out.
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

// holds is the cell that a span lies in, nil where it lies in none or in several.
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

// open finds the pieces of the open time that a window counted in; false where there are none.
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

// edge takes a window that lies outside the open time, but no farther than a clock may be off, for the time at its edge; false
// where it lies farther out.
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

// outside counts what was sold while the shop was not open, by the opening hours, in the day parts of that time.
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

// weigh sets the share of each piece: by the site's curve, else by minutes; the time in which the drink was off sale has no
// share, unless that is all there is.
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

// before is the share of a piece's sales that fell before until.
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

// minutesOn is the minutes of a span outside others.
func minutesOn(s models.Span, off []models.Span) float64 {
	n := 0.0
	for _, x := range models.Without(s, off) {
		n += x.To.Sub(x.From).Minutes()
	}
	return n
}
