package planner

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/margin"
	"hotday/planner/say"
)

const (
	mostStopped   = 3    // drinks to take off sale for one shortage
	mostInstead   = 2    // drinks to offer in place of one
	worthStopping = 0.95 // a drink is stopped early if it earns less than this share of the best, by gram of what is short
	lessOfIt      = 0.5  // what is offered instead uses at most this share of what is short
)

// stopSelling says which drinks to take off sale, and when, where ice for drinks or a beverage is likely to run short: those that earn
// least with a gram of it, from the latest half hour that saves enough for the others; the best drink, and any that earns as much,
// only once it runs out. Substitutes use little or none of what is short, and their beverages are expected to be left over.
func stopSelling(r *models.PlanRequest, p *models.Plan, q say.Voice) []models.StopSelling {
	x := newOffSale(r, p)
	var out []models.StopSelling
	for _, w := range x.short {
		out = append(out, x.stop(w, out)...)
	}
	for i := range out {
		out[i].Instead = x.instead(&out[i], out)
		out[i].Say = x.sentence(&out[i], q)
	}
	slices.SortStableFunc(out, func(a, b models.StopSelling) int { return a.From.Compare(b.From) })
	return out
}

// offSale is what the advice on stopping sales follows from.
type offSale struct {
	r      *models.PlanRequest
	p      *models.Plan
	prices *margin.Prices
	short  []runShort
}

// runShort is what is likely to run short on a day.
type runShort struct {
	day  models.Date
	what string // models.ShortOfIce, or the code of a beverage
	at   time.Time
	g    float64
}

func newOffSale(r *models.PlanRequest, p *models.Plan) *offSale {
	x := &offSale{r: r, p: p, prices: margin.Of(&r.Setup)}
	for _, w := range p.Warnings {
		s := runShort{day: r.Site.ServiceDayOf(w.At), what: w.Subject, at: w.At, g: w.Amount}
		if w.Unit == "kg" {
			s.g *= 1000
		}
		switch {
		case w.Grade == models.GradeNote, w.Amount <= 0:
			continue
		case w.Kind == models.WarnIceShort && !w.OfBathIce():
			s.what = models.ShortOfIce
		case w.Kind != models.WarnBeverageShort || w.Subject == "":
			continue
		}
		if !slices.ContainsFunc(x.short, func(o runShort) bool { return o.day == s.day && o.what == s.what }) {
			x.short = append(x.short, s)
		}
	}
	return x
}

// use is what a drink uses of what is short, g.
func (x *offSale) use(d *models.Drink, what string) float64 {
	if what == models.ShortOfIce {
		return x.r.Site.ServingIceUsedG(d)
	}
	g := 0.0
	for _, u := range d.Uses {
		if u.Beverage == what {
			g += x.r.Site.UsedG(u.G)
		}
	}
	return g
}

// after is the mean demand for a drink on a day from an instant on, spread evenly over each part of the day.
func (x *offSale) after(drink string, day models.Date, from time.Time) float64 {
	n := 0.0
	for i := range x.p.Demand {
		d := &x.p.Demand[i]
		if d.Drink != drink || d.Date != day {
			continue
		}
		for _, part := range x.r.Site.DayParts {
			if part.Code != d.DayPart {
				continue
			}
			span := x.r.Site.DayPartSpan(day, part)
			span.From = models.Later(span.From, x.p.ComputedAt) // the demand of a part under way is what is still to come
			if left := (models.Span{From: models.Later(span.From, from), To: span.To}); !left.Empty() && !span.Empty() {
				n += d.Mean * float64(left.To.Sub(left.From)) / float64(span.To.Sub(span.From))
			}
		}
	}
	return n
}

// candidate is a drink that uses what is short.
type candidate struct {
	drink *models.Drink
	use   float64 // g of what is short
	earns float64 // minor units by gram of it
}

// stop chooses what to take off sale for a shortage; before is what others have taken off already.
func (x *offSale) stop(s runShort, before []models.StopSelling) []models.StopSelling {
	begin := models.Later(x.p.ComputedAt, s.at.Add(-12*time.Hour)).Truncate(halfHour)
	var list []candidate
	for i := range x.r.Drinks {
		d := &x.r.Drinks[i]
		stopped := slices.ContainsFunc(before, func(b models.StopSelling) bool { return b.Date == s.day && b.Drink == d.Code })
		if g := x.use(d, s.what); g > 0 && !stopped && x.after(d.Code, s.day, begin) > 0 {
			list = append(list, candidate{d, g, x.prices.Contribution[i] / g})
		}
	}
	slices.SortStableFunc(list, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(a.earns, b.earns), cmp.Compare(a.drink.Code, b.drink.Code))
	})
	var out []models.StopSelling
	need := s.g
	for k, c := range list {
		if need <= 0 || len(out) == mostStopped {
			break
		}
		from := s.at
		if best := list[len(list)-1]; k < len(list)-1 && c.earns < worthStopping*best.earns {
			from = x.latest(c, s, begin, need)
		}
		out = append(out, models.StopSelling{Date: s.day, Drink: c.drink.Code, From: from.In(x.r.Site.Location()), Short: s.what, RunsOutAt: s.at,
			Drinks: math.Round(x.after(c.drink.Code, s.day, from)), Instead: []string{}})
		need -= c.use * x.after(c.drink.Code, s.day, from)
	}
	return out
}

// latest is the latest half hour up to the shortage from which not selling a drink saves as many grams as are needed, or the beginning
// where all of it does not.
func (x *offSale) latest(c candidate, s runShort, begin time.Time, need float64) time.Time {
	for at := s.at.Truncate(halfHour); at.After(begin); at = at.Add(-halfHour) {
		if c.use*x.after(c.drink.Code, s.day, at) >= need {
			return at
		}
	}
	return models.Later(begin, x.p.ComputedAt)
}

// instead lists the drinks to offer in place of one, by what they are expected to earn.
func (x *offSale) instead(of *models.StopSelling, stopped []models.StopSelling) []string {
	type offer struct {
		code  string
		earns float64
	}
	var list []offer
	i := slices.IndexFunc(x.r.Drinks, func(d models.Drink) bool { return d.Code == of.Drink })
	most := lessOfIt * x.use(&x.r.Drinks[i], of.Short)
	for k := range x.r.Drinks {
		d := &x.r.Drinks[k]
		if slices.ContainsFunc(stopped, func(s models.StopSelling) bool { return s.Date == of.Date && s.Drink == d.Code }) || x.use(d, of.Short) > most {
			continue
		}
		if n := x.spare(d, of); n >= 1 {
			list = append(list, offer{d.Code, x.prices.Contribution[k] * min(n, max(1, of.Drinks))})
		}
	}
	slices.SortStableFunc(list, func(a, b offer) int { return cmp.Or(cmp.Compare(b.earns, a.earns), strings.Compare(a.code, b.code)) })
	out := []string{}
	for _, o := range list[:min(len(list), mostInstead)] {
		out = append(out, o.code)
	}
	return out
}

// spare is how many more of a drink can be sold than are expected: what is left over of its beverages on that day, or, of one made to
// order, as many as are asked for. It is 0 where a beverage, ice, beans or supplies that it needs are short.
func (x *offSale) spare(d *models.Drink, of *models.StopSelling) float64 {
	end := x.r.Site.DayEnd(of.Date)
	n := math.Inf(1)
	for _, s := range x.short {
		if s.day == of.Date && s.what != of.Short && x.use(d, s.what) > 0 {
			return 0
		}
	}
	for _, u := range d.Uses {
		g := 0.0
		for _, l := range x.p.Left {
			if l.Beverage == u.Beverage && l.MadeAt.Before(end) && l.UseBy.After(of.From) {
				g += l.G
			}
		}
		n = min(n, g/x.r.Site.UsedG(u.G))
	}
	if !math.IsInf(n, 1) {
		return n
	}
	if x.wantsFor(d, of.Date) {
		return 0
	}
	return max(1, of.Drinks) // made to order, as many as are asked for
}

// wantsFor reports whether beans or supplies of a drink are short on a day or before.
func (x *offSale) wantsFor(d *models.Drink, day models.Date) bool {
	return slices.ContainsFunc(x.p.Warnings, func(w models.Warning) bool {
		if w.At.After(x.r.Site.DayEnd(day)) {
			return false
		}
		switch w.Kind {
		case models.WarnBeansShort:
			return slices.ContainsFunc(d.Doses, func(s models.Dose) bool { return s.Coffee == w.Subject })
		case models.WarnSuppliesShort:
			return slices.ContainsFunc(d.Extras, func(e models.Extra) bool { return models.SupplyKey(e.Name) == models.SupplyKey(w.Subject) })
		}
		return false
	})
}

// sentence says what to stop selling, from when and why, and what to offer.
func (x *offSale) sentence(s *models.StopSelling, q say.Voice) string {
	name := func(code string) string {
		for _, d := range x.r.Drinks {
			if d.Code == code {
				return cmp.Or(d.Name, code)
			}
		}
		return code
	}
	what := q.Say("off_sale.ice")
	for _, b := range x.r.Beverages {
		if b.Code == s.Short {
			what = cmp.Or(b.Name, b.Code)
		}
	}
	stop := q.Say("off_sale.stop", "drink", name(s.Drink), "from", q.At(s.From), "what", what, "at", q.Clock(s.RunsOutAt))
	if len(s.Instead) == 0 {
		return stop
	}
	var offers []string
	for _, code := range s.Instead {
		offers = append(offers, name(code))
	}
	return stop + q.Say("off_sale.instead", "offers", strings.Join(offers, q.Say("off_sale.or")))
}
