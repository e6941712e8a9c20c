package facts

import (
	"math"
	"slices"
	"time"

	"hotday/models"
)

// A sell-out that nobody reported shows in two places: by what was made, counted and sold, next to nothing of the beverage is left, and the
// till sells no more of its drinks while it usually would. The rest of the day part is then censored: only the demand before counts,
// scaled up (Beutel & Minner 2012, from memory).
const (
	silentLeft   = 0.05          // of a day's stock, or silentServings: what may be left of it
	silentGlass  = 1.5           // servings
	silentUsual  = 5             // servings that would usually have been sold since: with fewer, silence proves nothing
	silentWeeks  = 4             // on the same weekday before and as many after, from which the usual is taken
	silentWindow = 2 * time.Hour // longest window of counts that shows when sales ended
	silentBack   = 36 * time.Hour
)

// silentSellOuts returns the spans of a past service day in which drinks were off sale although nobody said so.
func (g *gathering) silentSellOuts(d models.Date) ([]models.OffSale, error) {
	site := &g.r.Site
	open := site.OpenSpans(d)
	if len(open) == 0 {
		return nil, nil
	}
	day := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	since := day.From.Add(-silentBack)
	changes, err := g.st.StockChanges(g.ctx, g.q.Site, since, day.To)
	if err != nil || len(changes) == 0 {
		return nil, err
	}
	counts, err := g.st.StockCounts(g.ctx, g.q.Site, since, day.To)
	if err != nil {
		return nil, err
	}
	sold, _, err := g.sales(since, day.To)
	if err != nil {
		return nil, err
	}
	closes := open[len(open)-1].To
	var out []models.OffSale
	for i := range g.r.Beverages {
		beverage := g.r.Beverages[i].Code
		last, ok := g.lastSale(sold, day, beverage)
		if !ok || last.window > silentWindow || closes.Sub(last.span.To) < time.Hour {
			continue
		}
		if g.restocked(beverage, last.span.To, day.To, counts, changes) || !g.bookEmpty(beverage, day.From, last.span.To, counts, changes, sold) {
			continue
		}
		rest, err := g.usualSales(d, beverage, models.Span{From: last.span.To, To: closes})
		if err != nil {
			return nil, err
		}
		if rest < silentUsual {
			continue
		}
		from := last.span.To
		usual, err := g.usualSales(d, beverage, last.span)
		if err != nil {
			return nil, err
		}
		if was := g.soldIn(sold, beverage, last.span); usual > was { // it ran out within the last window
			from = last.span.From.Add(time.Duration(float64(last.span.To.Sub(last.span.From)) * was / usual))
		}
		for _, x := range g.r.Drinks {
			if g.drinkHas(x.Code, beverage) {
				out = append(out, models.OffSale{Drink: x.Code, From: from, To: &day.To})
			}
		}
	}
	return out, nil
}

// lastSale is the last span of the day with sales of a drink that uses a beverage.
func (g *gathering) lastSale(sold []sale, day models.Span, beverage string) (last sale, ok bool) {
	for _, s := range sold {
		if s.servings > 0 && !s.span.From.Before(day.From) && g.drinkHas(s.drink, beverage) && (!ok || s.span.To.After(last.span.To)) {
			last, ok = s, true
		}
	}
	return last, ok
}

// restocked reports whether stock of a beverage was made, bought or counted between two instants.
func (g *gathering) restocked(beverage string, from, to time.Time, counts []models.StockCount, changes []models.StockChange) bool {
	for _, c := range changes {
		if c.Kind != "discarded" && c.Beverage != nil && *c.Beverage == beverage && !c.At.Before(from) && c.At.Before(to) {
			return true
		}
	}
	for _, c := range counts {
		if gramsOf(c)[beverage] > 0 && !c.CountedAt.Before(from) && c.CountedAt.Before(to) {
			return true
		}
	}
	return false
}

// bookEmpty reports whether next to nothing of a beverage was left at an instant, by what was made, counted and sold since the last count or
// the start of the day.
func (g *gathering) bookEmpty(beverage string, start, at time.Time, counts []models.StockCount, changes []models.StockChange, sold []sale) bool {
	book := 0.0
	for _, c := range counts { // oldest first
		if grams, counted := gramsOf(c)[beverage]; counted && c.CountedAt.Before(at) {
			book, start = grams, c.CountedAt
		}
	}
	for _, c := range changes {
		if c.Beverage == nil || *c.Beverage != beverage || c.G == nil || c.At.Before(start) || !c.At.Before(at) {
			continue
		}
		if c.Kind == "discarded" {
			book -= *c.G
		} else {
			book += *c.G
		}
	}
	if book <= 0 {
		return false // nothing is known to have been there
	}
	had, glass := book, 0.0
	for _, s := range sold {
		if s.span.From.Before(start) || s.span.To.After(at) {
			continue
		}
		g0 := g.gramsIn(s.drink, beverage)
		book -= s.servings * g0
		if s.servings > 0 {
			glass = math.Max(glass, g0)
		}
	}
	return book <= math.Max(silentLeft*had, silentGlass*glass)
}

// gramsIn is what a serving of a drink takes of a beverage, remakes included.
func (g *gathering) gramsIn(drink, beverage string) (grams float64) {
	for i := range g.r.Drinks {
		if d := &g.r.Drinks[i]; d.Code == drink {
			for _, u := range d.Uses {
				if u.Beverage == beverage {
					grams += g.r.Site.UsedG(u.G)
				}
			}
		}
	}
	return grams
}

// soldIn is the servings sold in a span of the drinks that use a beverage.
func (g *gathering) soldIn(sold []sale, beverage string, span models.Span) (servings float64) {
	for _, s := range sold {
		if g.drinkHas(s.drink, beverage) {
			servings += s.within(span)
		}
	}
	return servings
}

// usualSales is the servings usually sold of the drinks that use a beverage in the same hours of the same weekdays around a date.
func (g *gathering) usualSales(d models.Date, beverage string, span models.Span) (float64, error) {
	var list []float64
	for k := -silentWeeks; k <= silentWeeks; k++ {
		other := d.AddDays(7 * k)
		if k == 0 || other >= g.today {
			continue
		}
		shift := time.Duration(24*7*k) * time.Hour
		same := models.Span{From: span.From.Add(shift), To: span.To.Add(shift)}
		sold, last, err := g.sales(same.From, same.To)
		if err != nil {
			return 0, err
		}
		if !last.IsZero() {
			list = append(list, g.soldIn(sold, beverage, same))
		}
	}
	return usualOf(list), nil
}

// usualOf is the upper quartile: of a shop that often sells out, the other days tell what demand is.
func usualOf(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(list))
	return sorted[min(len(sorted)-1, len(sorted)*3/4)]
}
