package planner

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// sale is servings of a drink spread evenly over a span.
type sale struct {
	drink    string
	span     models.Span
	servings float64
}

// within is the part of the servings that falls in a span.
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

// sales reads the counts of mapped items whose windows overlap [from, to), as disjoint spans for each item. last is the latest
// end of a window, mapped or not, zero where nothing was counted.
func (g *gathering) sales(from, to time.Time) (out []sale, last time.Time, err error) {
	byItem := map[[2]string][]models.SalesRow{}
	var order [][2]string
	page := models.Page{Limit: models.MaxLimit}
	for {
		got, err := g.st.Counts(g.ctx, g.q.Site, models.SalesFilter{From: from, To: to}, page)
		if err != nil {
			return nil, last, err
		}
		for _, r := range got.Rows {
			if r.WindowEnd.After(last) {
				last = r.WindowEnd
			}
			if r.Drink == nil || !g.hasDrink(*r.Drink) {
				continue
			}
			k := [2]string{r.Source, r.Item}
			if byItem[k] == nil {
				order = append(order, k)
			}
			byItem[k] = append(byItem[k], r)
		}
		if got.Next == nil {
			break
		}
		page.Cursor = *got.Next
	}
	for _, k := range order {
		out = append(out, disjoint(byItem[k])...)
	}
	return out, last, nil
}

// disjoint turns the windows of one item into spans that do not overlap. A shorter window wins; a longer one adds what it
// counts beyond the shorter ones, never below zero, over the time that they leave uncovered.
func disjoint(windows []models.SalesRow) []sale {
	slices.SortFunc(windows, func(a, b models.SalesRow) int {
		return cmp.Or(a.WindowStart.Compare(b.WindowStart), a.WindowEnd.Compare(b.WindowEnd))
	})
	clash := false
	out := make([]sale, 0, len(windows))
	for i, w := range windows {
		clash = clash || i > 0 && w.WindowStart.Before(windows[i-1].WindowEnd)
		out = append(out, sale{drink: *w.Drink, span: models.Span{From: w.WindowStart, To: w.WindowEnd}, servings: w.Count * w.Factor})
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

// beyond is what a window adds to the disjoint sales that are there.
func beyond(s sale, there []sale) []sale {
	left := s.servings
	var taken []models.Span
	for _, t := range there {
		if !t.span.Overlap(s.span).Empty() {
			left -= t.within(s.span)
			taken = append(taken, t.span)
		}
	}
	free := without(s.span, taken)
	var length time.Duration
	for _, f := range free {
		length += f.To.Sub(f.From)
	}
	var out []sale
	for _, f := range free {
		out = append(out, sale{drink: s.drink, span: f, servings: max(0, left) * float64(f.To.Sub(f.From)) / float64(length)})
	}
	return out
}

// dayCounts is what one service day sold: servings by day part and drink.
type dayCounts struct {
	date   models.Date
	last   time.Time // the latest end of a window, zero where nothing was counted
	counts map[partDrink]float64
}

type partDrink struct{ part, drink string }

// day splits the counts of a service day, until an instant, over its day parts. A window that reaches beyond the opening hours
// counts as sold in its open time, if it has any.
func (g *gathering) day(d models.Date, until time.Time) (dayCounts, error) {
	site := &g.r.Site
	out := dayCounts{date: d, counts: map[partDrink]float64{}}
	open := site.OpenSpans(d)
	parts := make([]models.Span, len(site.DayParts))
	whole := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	for i, p := range site.DayParts {
		parts[i] = site.PartSpan(d, p)
	}
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
	for _, s := range list {
		for _, piece := range inOpen(s, open) {
			for i, span := range parts {
				cut := span
				if until.Before(cut.To) {
					cut.To = until
				}
				if n := piece.within(cut); n > 0 {
					out.counts[partDrink{site.DayParts[i].Code, s.drink}] += n
				}
			}
		}
	}
	return out, nil
}

// inOpen moves a sale into the open time that it overlaps; one that overlaps none stays where it was counted.
func inOpen(s sale, open []models.Span) []sale {
	var length time.Duration
	var spans []models.Span
	for _, o := range open {
		if x := o.Overlap(s.span); !x.Empty() {
			spans = append(spans, x)
			length += x.To.Sub(x.From)
		}
	}
	if len(spans) == 0 || len(spans) == 1 && spans[0] == s.span {
		return []sale{s}
	}
	out := make([]sale, len(spans))
	for i, x := range spans {
		out[i] = sale{drink: s.drink, span: x, servings: s.servings * float64(x.To.Sub(x.From)) / float64(length)}
	}
	return out
}

// soldToday is what the day has taken so far, zeros included. A drink that was off sale in a part is left out of it: there a
// zero says nothing of the demand.
func (g *gathering) soldToday() error {
	if last := g.q.From.AddDays(g.q.Days - 1); g.today < g.q.From || g.today > last {
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
	off, err := g.st.OffSale(g.ctx, g.q.Site, g.since(), g.q.Now)
	if err != nil {
		return err
	}
	for _, p := range g.r.Site.DayParts {
		span := g.r.Site.PartSpan(g.today, p)
		for _, t := range []time.Time{day.last, g.q.Now} {
			if t.Before(span.To) {
				span.To = t
			}
		}
		if span.Empty() || !touches(g.r.Site.OpenSpans(g.today), span) {
			continue
		}
		for _, d := range g.r.Drinks {
			if mapped[d.Code] && !offSale(off, d.Code, span) {
				g.r.Sold = append(g.r.Sold, models.Sold{Date: g.today, DayPart: p.Code, Drink: d.Code, Count: day.counts[partDrink{p.Code, d.Code}], Until: span.To})
			}
		}
	}
	return nil
}

func (g *gathering) mappedDrinks() (map[string]bool, error) {
	list, err := g.st.Mappings(g.ctx, g.q.Site)
	out := map[string]bool{}
	for _, m := range list {
		out[m.Drink] = true
	}
	return out, err
}

func offSale(list []models.OffSale, drink string, span models.Span) bool {
	for _, o := range list {
		if o.Drink == drink && o.From.Before(span.To) && (o.To == nil || o.To.After(span.From)) {
			return true
		}
	}
	return false
}
