package facts

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// sale is servings of a drink over a span.
type sale struct {
	drink    string
	span     models.Span
	servings float64
	window   time.Duration // length of the window that they were counted in, which the span may be a part of
	rest     *remainder    // shared by all parts of the window, if shorter windows split it into several
}

// remainder is a window's count in excess of the shorter windows within it, and the spans that those leave uncovered.
type remainder struct {
	servings float64
	spans    []models.Span // in order of time
}

// within is the servings that fall in a span if sales are uniform.
func (s sale) within(sp models.Span) float64 {
	o := s.span.Overlap(sp)
	switch {
	case o.Empty():
		return 0
	case o == s.span:
		return s.servings
	}
	return s.servings * float64(o.To.Sub(o.From)) / float64(s.span.To.Sub(s.span.From))
}

// sales reads the counts of mapped items whose windows overlap [from, to), as disjoint spans for each item. last is the latest end
// of a window, mapped or not; zero if there are no counts. If a window extends beyond [from, to), the shorter windows outside are
// needed to split it, so they are read and returned too.
func (g *gathering) sales(from, to time.Time) (out []sale, last time.Time, err error) {
	w := windows{byItem: map[[2]string][]models.SalesRow{}, reach: models.Span{From: from, To: to}}
	if err := g.read(&w, models.Span{From: from, To: to}, everyWindow); err != nil {
		return nil, last, err
	}
	last = w.last
	// Windows two steps away only matter through windows that matter little themselves.
	for range 2 {
		early := models.Span{From: w.reach.From, To: from}
		late := models.Span{From: to, To: w.reach.To}
		if late.To.After(g.q.Now) {
			late.To = g.q.Now
		}
		if early.Empty() && late.Empty() {
			break
		}
		// Windows that were already read overlap [from, to).
		if err := g.read(&w, early, func(r *models.SalesRow) bool { return !r.WindowEnd.After(early.To) }); err != nil {
			return nil, last, err
		}
		if err := g.read(&w, late, func(r *models.SalesRow) bool { return !r.WindowStart.Before(late.From) }); err != nil {
			return nil, last, err
		}
		from, to = early.From, late.To
	}
	for _, k := range w.order {
		out = append(out, disjoint(w.byItem[k])...)
	}
	return out, last, nil
}

// windows are counts of mapped items, by source and item.
type windows struct {
	byItem map[[2]string][]models.SalesRow
	order  [][2]string
	reach  models.Span // of all of them
	last   time.Time
}

func everyWindow(*models.SalesRow) bool { return true }

// read adds the selected windows that overlap a span.
func (g *gathering) read(w *windows, span models.Span, wanted func(*models.SalesRow) bool) error {
	if span.Empty() {
		return nil
	}
	page := models.Page{Limit: models.MaxLimit}
	for {
		got, err := g.st.Counts(g.ctx, g.q.Site, models.SalesFilter{From: span.From, To: span.To}, page)
		if err != nil {
			return err
		}
		for i := range got.Rows {
			r := &got.Rows[i]
			if !wanted(r) {
				continue
			}
			if r.WindowEnd.After(w.last) {
				w.last = r.WindowEnd
			}
			if r.Drink == nil || !g.hasDrink(*r.Drink) {
				continue
			}
			if r.WindowStart.Before(w.reach.From) {
				w.reach.From = r.WindowStart
			}
			if r.WindowEnd.After(w.reach.To) {
				w.reach.To = r.WindowEnd
			}
			k := [2]string{r.Source, r.Item}
			if w.byItem[k] == nil {
				w.order = append(w.order, k)
			}
			w.byItem[k] = append(w.byItem[k], *r)
		}
		if got.Next == nil {
			return nil
		}
		page.Cursor = *got.Next
	}
}

// disjoint turns the overlapping windows of one item into disjoint spans. Shorter windows take precedence; a longer one adds its
// count in excess of theirs, never below zero, over the time that they leave uncovered.
func disjoint(windows []models.SalesRow) []sale {
	slices.SortFunc(windows, func(a, b models.SalesRow) int {
		return cmp.Or(a.WindowStart.Compare(b.WindowStart), a.WindowEnd.Compare(b.WindowEnd))
	})
	clash := false
	out := make([]sale, 0, len(windows))
	for i, w := range windows {
		clash = clash || i > 0 && w.WindowStart.Before(windows[i-1].WindowEnd)
		out = append(out, sale{drink: *w.Drink, span: models.Span{From: w.WindowStart, To: w.WindowEnd}, servings: w.Count * w.Factor,
			window: w.WindowEnd.Sub(w.WindowStart)})
	}
	if !clash {
		return out
	}
	slices.SortStableFunc(out, func(a, b sale) int {
		return cmp.Compare(a.span.To.Sub(a.span.From), b.span.To.Sub(b.span.From))
	})
	var done []sale // in order of time
	for _, s := range out {
		done = append(done, beyond(s, done)...)
		slices.SortFunc(done, func(a, b sale) int { return a.span.From.Compare(b.span.From) })
	}
	return done
}

// beyond is the sales that a window adds to the disjoint sales so far.
func beyond(s sale, there []sale) []sale {
	left := s.servings
	var taken []models.Span
	for _, t := range there {
		if !t.span.Overlap(s.span).Empty() {
			left -= t.within(s.span)
			taken = append(taken, t.span)
		}
	}
	free := models.Without(s.span, taken)
	var length time.Duration
	for _, f := range free {
		length += f.To.Sub(f.From)
	}
	var rest *remainder
	if len(free) > 1 {
		rest = &remainder{servings: max(0, left), spans: free}
	}
	var out []sale
	for _, f := range free {
		out = append(out, sale{drink: s.drink, span: f, window: s.window, rest: rest, servings: max(0, left) * float64(f.To.Sub(f.From)) / float64(length)})
	}
	return out
}

// dayCounts is the sales of one service day: servings by day part and drink.
type dayCounts struct {
	date   models.Date
	last   time.Time // the latest end of a window, zero where nothing was counted
	counts map[partDrink]float64
}

type partDrink struct{ part, drink string }

// day splits the counts of a service day, until an instant, over its day parts.
func (g *gathering) day(d models.Date, until time.Time) (dayCounts, error) {
	site := &g.r.Site
	out := dayCounts{date: d, counts: map[partDrink]float64{}}
	whole := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	if until.Before(whole.To) {
		whole.To = until
	}
	if whole.Empty() {
		return out, nil
	}
	list, last, err := g.sales(whole.From, whole.To)
	if err != nil {
		return out, err
	}
	out.last = last
	s, err := g.splitting(d, until)
	if err != nil {
		return out, err
	}
	for i := range list {
		if err := s.add(&list[i], out.counts); err != nil {
			return out, err
		}
	}
	return out, nil
}

// soldToday is today's sales so far, zeros included. If a drink went off sale in a part, only its sales before that count: later
// zeros carry no information on demand.
func (g *gathering) soldToday() error {
	if last := g.q.From.AddDays(g.q.Days - 1); g.today > last {
		return nil
	}
	day, err := g.day(g.today, g.q.Now)
	if err != nil || day.last.IsZero() {
		return err
	}
	mapped, err := g.mappedDrinks()
	if err != nil {
		return err
	}
	off, err := g.offSaleIn(g.since(), g.q.Now)
	if err != nil {
		return err
	}
	before := map[time.Time]map[partDrink]float64{}
	for _, p := range g.r.Site.DayParts {
		span := g.r.Site.DayPartSpan(g.today, p)
		for _, t := range []time.Time{day.last, g.q.Now} {
			if t.Before(span.To) {
				span.To = t
			}
		}
		if span.Empty() || !models.Touches(g.r.Site.OpenSpans(g.today), span) {
			continue
		}
		for _, d := range g.r.Drinks {
			if !mapped[d.Code] {
				continue
			}
			until, counts := onSaleUntil(off, d.Code, span), day.counts
			if !until.After(span.From) {
				continue
			}
			if until.Before(span.To) {
				if counts, err = g.countsUntil(until, before); err != nil {
					return err
				}
			}
			g.r.Sold = append(g.r.Sold, models.Sold{Date: g.today, DayPart: p.Code, Drink: d.Code, Count: counts[partDrink{p.Code, d.Code}], Until: until})
		}
	}
	return nil
}

func (g *gathering) mappedDrinks() (map[string]bool, error) {
	list, err := g.st.Mappings(g.ctx, g.q.Site)
	out := map[string]bool{}
	for _, m := range list {
		if m.Drink != nil {
			out[*m.Drink] = true
		}
	}
	return out, err
}

// countsUntil is the day's sales before an instant, cached in known.
func (g *gathering) countsUntil(t time.Time, known map[time.Time]map[partDrink]float64) (map[partDrink]float64, error) {
	if c, ok := known[t]; ok {
		return c, nil
	}
	d, err := g.day(g.today, t)
	known[t] = d.counts
	return d.counts, err
}

// onSaleUntil is the first time in a span at which a drink went off sale, or the span's end.
func onSaleUntil(list []models.OffSale, drink string, span models.Span) time.Time {
	until := span.To
	for _, o := range list {
		if o.Drink == drink && o.From.Before(until) && (o.To == nil || o.To.After(span.From)) {
			until = o.From
		}
	}
	return until
}

func offSale(list []models.OffSale, drink string, span models.Span) bool {
	for _, o := range list {
		if o.Drink == drink && o.From.Before(span.To) && (o.To == nil || o.To.After(span.From)) {
			return true
		}
	}
	return false
}
