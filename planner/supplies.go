package planner

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
)

// planSupplies lists the supplies that the planned drinks use, by service day, in the order of the set-up; supplies that only drinks
// name come after it. Counted stock is used up day by day.
func (st *setting) planSupplies(demand []models.DemandRange) []models.SupplyNeed {
	r := st.req
	drinks := map[string]*models.Drink{}
	for i := range r.Drinks {
		drinks[r.Drinks[i].Code] = &r.Drinks[i]
	}
	names := st.supplyNames()
	used := map[models.Date]map[string]float64{}
	for i := range demand {
		row := &demand[i]
		d := drinks[row.Drink]
		if d == nil || row.Prepare <= 0 {
			continue
		}
		for _, x := range r.ExtrasOf(d) {
			if used[row.Date] == nil {
				used[row.Date] = map[string]float64{}
			}
			used[row.Date][models.SupplyKey(x.Name)] += row.Prepare * r.Site.UsedG(x.Amount)
		}
	}
	var out []models.SupplyNeed
	left := map[string]float64{} // of the counted stock
	for i := range r.Supplies {
		if s := r.Supplies[i].Stock; s != nil {
			left[models.SupplyKey(r.Supplies[i].Name)] = *s
		}
	}
	for _, date := range st.h.days {
		for _, x := range names {
			key := models.SupplyKey(x.Name)
			amount := math.Ceil(used[date][key] - 1e-6)
			if amount <= 0 {
				continue
			}
			n := models.SupplyNeed{Date: date, Name: x.Name, Unit: x.Unit, Amount: amount, Allergens: r.SupplyAllergens(x.Name)}
			if s := r.SupplyNamed(x.Name); s != nil {
				n.Packs, n.KeptIn = s.PacksFor(amount), s.KeptIn
				if at, ok := s.CutOff(date, st.loc); ok {
					n.OrderBy = &at
				}
			}
			if have, counted := left[key]; counted {
				n.Short = max(0, amount-have)
				left[key] = max(0, have-amount)
				n.StockAfter = new(left[key])
			}
			out = append(out, n)
		}
	}
	return out
}

// supplyNames lists every supply with its unit: those of the set-up, then those that only drinks name.
func (st *setting) supplyNames() []models.Extra {
	var out []models.Extra
	for i := range st.req.Supplies {
		s := &st.req.Supplies[i]
		out = append(out, models.Extra{Name: s.Name, Unit: s.Unit})
	}
	for i := range st.req.Drinks {
		for _, x := range st.req.ExtrasOf(&st.req.Drinks[i]) {
			if !slices.ContainsFunc(out, func(o models.Extra) bool { return models.SupplyKey(o.Name) == models.SupplyKey(x.Name) }) {
				out = append(out, x)
			}
		}
	}
	return out
}

// warnSupplies warns of counted supplies that run short: what to order by when, and what to buy where the cut-off has passed.
func (dr *draft) warnSupplies(needs []models.SupplyNeed) (out []warning) {
	for i := range dr.req.Supplies {
		s := &dr.req.Supplies[i]
		var late, open []models.SupplyNeed // short days by whether an order still arrives in time
		for _, n := range needs {
			switch {
			case n.Name != s.Name || n.Short <= 0:
			case n.OrderBy != nil && !n.OrderBy.After(dr.req.Now):
				late = append(late, n)
			default:
				open = append(open, n)
			}
		}
		extra := 0.0 // left of the packs bought for the days without an order
		if len(late) > 0 {
			short := shortOf(late)
			if packs := s.PacksFor(short); packs > 0 {
				extra = float64(packs)*s.Pack - short
			}
			out = append(out, dr.warnSupply(i, late, short, true))
		}
		for len(open) > 0 && extra >= open[0].Short {
			extra -= open[0].Short
			open = open[1:]
		}
		if len(open) > 0 {
			out = append(out, dr.warnSupply(i, open, shortOf(open)-extra, false))
		}
	}
	return out
}

func shortOf(needs []models.SupplyNeed) (sum float64) {
	for _, n := range needs {
		sum += n.Short
	}
	return sum
}

// warnSupply warns of an amount of a supply that some days lack. late: too late for an order.
func (dr *draft) warnSupply(i int, days []models.SupplyNeed, amount float64, late bool) warning {
	s := &dr.req.Supplies[i]
	first, last := days[0], days[len(days)-1]
	needed := dr.opensOn(first.Date)
	by, key := needed, "supplies.buy"
	what := dr.q.Supply(s, amount, !late && first.OrderBy != nil)
	switch {
	case late:
		key = "supplies.late"
	case first.OrderBy != nil:
		by, key = *first.OrderBy, "supplies.order"
	}
	grade := models.GradeNote
	switch ahead := by.Sub(dr.req.Now); {
	case ahead < actNow:
		grade = models.GradeActNow
	case late || ahead < actToday:
		grade = models.GradeActToday
	}
	span := dr.q.DayName(first.Date)
	if last.Date != first.Date {
		span = dr.q.Say("plan.days", "first", span, "last", dr.q.DayName(last.Date))
	}
	args := []any{"what", what, "by", dr.q.Soon(by, dr.req.Now), "days", span, "amount", dr.q.SupplyAmount(amount, s.Unit)}
	if late {
		args = append(args, "cutoff", dr.q.Soon(*first.OrderBy, dr.req.Now))
	}
	subject := about(key + "|" + models.SupplyKey(s.Name))
	subject.day = slices.Index(dr.h.days, first.Date)
	w := dr.warning(subject, models.WarnSuppliesShort, grade, needed, amount, s.Unit, 100, []string{fmt.Sprintf("supplies.%d.stock", i)}, dr.q.Say(key, args...))
	w.Subject = s.Name
	return w
}

// opensOn is when the shop opens on a service day; its midnight where it is closed.
func (st *setting) opensOn(d models.Date) time.Time {
	for _, s := range st.h.open {
		if !s.Empty() && st.req.Site.ServiceDayOf(s.From) == d {
			return s.From
		}
	}
	return d.At(0, st.loc)
}
