package planner

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/bean"
)

// beanDay is one coffee on one service day.
type beanDay struct {
	coffee int
	date   models.Date
	day    bean.Day
}

// planBeans picks the lots for each day's batches and drinks made to order.
func planBeans(bp *brewPlan) (days []beanDay) {
	now := bp.firstPeople()
	for c := range bp.req.Coffees {
		needs := bp.beanNeeds(c)
		if len(needs) == 0 {
			continue
		}
		x := &bp.req.Coffees[c]
		for _, d := range bean.Plan(bp.lots(x), beanRules(x), needs, now) {
			days = append(days, beanDay{coffee: c, date: models.Date(d.Need.Date.Format(time.DateOnly)), day: d})
		}
	}
	return days
}

// firstPeople is when the first person is there, who can take beans out.
func (st *setting) firstPeople() time.Time {
	for t := range st.h.n {
		if at := st.h.at(t); st.h.mayBegin(at) {
			return at
		}
	}
	return st.h.at(st.h.n)
}

func beanRules(x *models.Coffee) bean.Rules {
	return bean.Rules{RestMinDays: x.RestDaysMin, RestMaxDays: x.RestDaysMax, ThawH: x.ThawH, PackG: x.PackG, GrinderLossPct: x.GrinderLossPct}
}

func midnight(d models.Date) time.Time {
	t, _ := time.Parse(time.DateOnly, string(d))
	return t
}

// beanNeeds returns the coffee dosed on each service day, g, and when it is first needed.
func (bp *brewPlan) beanNeeds(coffee int) []bean.Need {
	by := map[models.Date]*bean.Need{}
	var dates []models.Date
	add := func(at time.Time, g float64) {
		if g <= 0 {
			return
		}
		d := bp.req.Site.ServiceDayOf(at)
		n := by[d]
		if n == nil {
			n = &bean.Need{Date: midnight(d), UseFrom: at}
			by[d] = n
			dates = append(dates, d)
		}
		n.G += g
		n.UseFrom = models.Earlier(n.UseFrom, at)
	}
	for i := range bp.batches {
		p := &bp.batches[i]
		if b := bp.recipes[bp.options[p.option].bev].bev; b.Coffee == bp.req.Coffees[coffee].Code {
			add(bp.h.at(p.slot), p.doseG)
		}
	}
	for t, g := range bp.needs.doses(bp.req, coffee) {
		if t >= bp.h.sold { // what sells before the plan has its beans at hand
			add(bp.h.at(t), g)
		}
	}
	slices.Sort(dates)
	var out []bean.Need
	for _, d := range dates {
		out = append(out, *by[d])
	}
	return out
}

// lots returns the coffee's lots, with coffee already taken out of the freezer on the shelf.
func (st *setting) lots(x *models.Coffee) []bean.Lot {
	var out []bean.Lot
	for _, l := range x.Lots {
		lot := bean.Lot{Code: l.Code, RoastedOn: midnight(l.RoastedOn), Grams: l.Grams, OpenG: l.OpenG, Freezer: l.Place == "freezer"}
		if l.FrozenOn != nil {
			lot.FrozenOn = midnight(*l.FrozenOn)
		}
		if lot.Freezer {
			pulled := min(st.pulled(x.Code, l.Code), lot.Grams)
			if pulled > 0 {
				shelf := lot
				shelf.Freezer, shelf.Grams, shelf.OpenG = false, pulled, 0
				if !lot.FrozenOn.IsZero() { // the days in the freezer do not count
					shelf.RoastedOn = shelf.RoastedOn.Add(max(0, midnight(models.DateOf(st.h.start, st.loc)).Sub(lot.FrozenOn)))
				}
				lot.Grams -= pulled
				lot.OpenG = min(lot.OpenG, lot.Grams)
				out = append(out, shelf)
			}
		}
		if lot.Grams > 0 {
			out = append(out, lot)
		}
	}
	return out
}

func (st *setting) pulled(coffee, lot string) float64 {
	g := 0.0
	for _, u := range st.req.UnderWay {
		if u.Kind == models.TaskPull && u.Lot != nil && *u.Lot == lot && (u.Coffee == nil || *u.Coffee == coffee) && u.G != nil {
			g += *u.G
		}
	}
	return g
}

// pulls lists every lot that a day uses: whole bags, and the amount used from open ones.
func (dr *draft) pulls() []models.BeanPull {
	out := []models.BeanPull{}
	for _, d := range dr.beans {
		for _, p := range d.day.Picks {
			place := "shelf"
			if p.Freezer {
				place = "freezer"
			}
			by := p.PullBy
			if at, ok := dr.h.lastPeople(p.PullBy, models.Minutes(dr.req.Site.Work().Get)); ok && (p.Freezer || !dr.h.peopleFor(by, 0)) {
				by = at
			}
			out = append(out, models.BeanPull{Date: d.date, Coffee: dr.req.Coffees[d.coffee].Code, Lot: p.Lot, G: p.PulledG + p.OpenG, OpenG: p.OpenG, FromPlace: place,
				PullBy: by.In(dr.loc), UseFrom: p.UseFrom.In(dr.loc)})
		}
	}
	slices.SortStableFunc(out, func(a, b models.BeanPull) int {
		if c := a.PullBy.Compare(b.PullBy); c != 0 {
			return c
		}
		return strings.Compare(a.Coffee+"|"+a.Lot, b.Coffee+"|"+b.Lot)
	})
	return out
}

// setLots assigns lots to the batches still due: a day's batches in order of time, before its drinks made to order.
func (dr *draft) setLots(batches []models.BatchTask) {
	for _, d := range dr.beans {
		left := make([]float64, len(d.day.Picks))
		for i, p := range d.day.Picks {
			left[i] = p.UseG
		}
		loss := 1 - dr.req.Coffees[d.coffee].GrinderLossPct/100
		for i := range batches {
			b := &batches[i]
			if b.State != models.Due || b.Date != d.date || dr.recipes[dr.bevIndex[b.Beverage]].bev.Coffee != dr.req.Coffees[d.coffee].Code {
				continue
			}
			want := b.DoseG / loss
			var lots []models.LotUse
			for k := range left {
				if g := min(left[k], want); g > 1e-9 {
					left[k] -= g
					want -= g
					code := d.day.Picks[k].Lot
					i := slices.IndexFunc(lots, func(l models.LotUse) bool { return l.Lot == code })
					if i < 0 {
						i, lots = len(lots), append(lots, models.LotUse{Lot: code})
					}
					lots[i].G += g
				}
			}
			if want < lackBeansG && len(lots) > 0 {
				b.Lots, b.CoffeeLot = lots, models.CoffeeLot(lots)
			}
		}
	}
}
