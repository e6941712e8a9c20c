package facts

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// offSaleIn returns the spans between two instants in which drinks were off sale: as recorded, and while one of their beverages was
// out of stock. Zero counts in such spans carry no information on demand.
func (g *gathering) offSaleIn(from, to time.Time) ([]models.OffSale, error) {
	out, err := g.st.OffSale(g.ctx, g.q.Site, from, to)
	if err != nil {
		return nil, err
	}
	gone, err := g.gone(from, to)
	if err != nil {
		return nil, err
	}
	for _, x := range gone {
		for _, d := range g.r.Drinks {
			if g.drinkHas(d.Code, x.beverage) {
				out = append(out, models.OffSale{Drink: d.Code, From: x.From, To: &x.To})
			}
		}
	}
	return out, nil
}

// goneSpan is a span in which a beverage was out of stock.
type goneSpan struct {
	models.Span
	beverage string
}

// gone finds the spans of open hours in which beverages were out of stock: from a stock count of zero until the next count above
// zero, the next batch or purchase, the next sale of a drink that uses it, or the end of the service day, whichever comes first. A
// count before the shop opens does not start one: nothing had been made yet.
func (g *gathering) gone(from, to time.Time) ([]goneSpan, error) {
	counts, err := g.st.StockCounts(g.ctx, g.q.Site, from, to)
	if err != nil {
		return nil, err
	}
	var out []goneSpan
	for i, c := range counts {
		for beverage, grams := range gramsOf(c) {
			d := g.r.Site.ServiceDayOf(c.CountedAt)
			if grams > 0 || !slices.ContainsFunc(g.r.Site.OpenSpans(d), func(o models.Span) bool { return o.Contains(c.CountedAt) }) {
				continue
			}
			x := goneSpan{models.Span{From: c.CountedAt, To: g.r.Site.DayEnd(d)}, beverage}
			for _, later := range counts[i+1:] { // oldest first
				if !later.CountedAt.Before(x.To) {
					break
				}
				if gramsOf(later)[beverage] > 0 {
					x.To = later.CountedAt
				}
			}
			if x.To, err = g.there(x); err != nil {
				return nil, err
			}
			if !x.Empty() {
				out = append(out, x)
			}
		}
	}
	slices.SortFunc(out, func(a, b goneSpan) int { return cmp.Or(a.From.Compare(b.From), cmp.Compare(a.beverage, b.beverage)) })
	return out, nil
}

func gramsOf(c models.StockCount) map[string]float64 {
	out := map[string]float64{}
	for _, b := range c.Beverages {
		out[b.Beverage] += b.G
	}
	return out
}

// there is when a beverage was back in stock, judging by stock changes and sales.
func (g *gathering) there(x goneSpan) (time.Time, error) {
	changes, err := g.st.StockChanges(g.ctx, g.q.Site, x.From, x.To)
	if err != nil {
		return x.To, err
	}
	for _, c := range changes {
		if c.Kind != "discarded" && c.Beverage != nil && *c.Beverage == x.beverage && c.At.Before(x.To) {
			x.To = c.At
		}
	}
	until := x.To
	if g.q.Now.Before(until) {
		until = g.q.Now
	}
	sold, _, err := g.sales(x.From, until)
	for _, s := range sold {
		if s.servings > 0 && !s.span.From.Before(x.From) && s.span.From.Before(x.To) && g.drinkHas(s.drink, x.beverage) {
			x.To = s.span.From
		}
	}
	return x.To, err
}

func (g *gathering) drinkHas(drink, beverage string) bool {
	for i := range g.r.Drinks {
		if d := &g.r.Drinks[i]; d.Code == drink {
			return slices.ContainsFunc(d.Uses, func(u models.Use) bool { return u.Beverage == beverage && u.G > 0 })
		}
	}
	return false
}

// offBack is how far back spans off sale are read for splitting windows.
const offBack = 400 * 24 * time.Hour

// offSpans returns the spans before now in which a drink was off sale, read once.
func (g *gathering) offSpans(drink string) ([]models.Span, error) {
	if g.off == nil {
		list, err := g.offSaleIn(g.q.Now.Add(-offBack), g.q.Now)
		if err != nil {
			return nil, err
		}
		g.off = map[string][]models.Span{}
		for _, o := range list {
			span := models.Span{From: o.From, To: g.q.Now}
			if o.To != nil {
				span.To = *o.To
			}
			g.off[o.Drink] = append(g.off[o.Drink], span)
		}
	}
	return g.off[drink], nil
}
