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
func (j *job) planBeans() {
	now := j.h.at(j.h.n)
	for t := range j.h.n { // a lot is pulled by a person: the first one to be there counts
		if j.h.peopleAt(j.h.at(t)) {
			now = j.h.at(t)
			break
		}
	}
	for c := range j.req.Coffees {
		needs := j.beanNeeds(c)
		if len(needs) == 0 {
			continue
		}
		x := &j.req.Coffees[c]
		rules := bean.Rules{RestMinDays: x.RestDaysMin, RestMaxDays: x.RestDaysMax, ThawH: x.ThawH, PackG: x.PackG, GrinderLossPct: x.GrinderLossPct}
		for _, d := range bean.Plan(j.lots(x), rules, needs, now) {
			j.beans = append(j.beans, beanDay{coffee: c, date: models.Date(d.Need.Date.Format(time.DateOnly)), day: d})
		}
	}
}

func midnight(d models.Date) time.Time {
	t, _ := time.Parse(time.DateOnly, string(d))
	return t
}

// beanNeeds is the coffee dosed by service day, and its first use.
func (j *job) beanNeeds(coffee int) []bean.Need {
	by := map[models.Date]*bean.Need{}
	var dates []models.Date
	add := func(at time.Time, g float64) {
		if g <= 0 {
			return
		}
		d := j.req.Site.ServiceDayOf(at)
		n := by[d]
		if n == nil {
			n = &bean.Need{Date: midnight(d), UseFrom: at}
			by[d] = n
			dates = append(dates, d)
		}
		n.G += g
		n.UseFrom = earlier(n.UseFrom, at)
	}
	for i := range j.batches {
		p := &j.batches[i]
		if b := j.recipes[j.options[p.option].bev].bev; b.Coffee == j.req.Coffees[coffee].Code {
			add(j.h.at(p.slot), p.doseG)
		}
	}
	for t, g := range j.needs.doses(j.req, coffee) {
		add(j.h.at(t), g)
	}
	slices.Sort(dates)
	var out []bean.Need
	for _, d := range dates {
		out = append(out, *by[d])
	}
	return out
}

// lots are the coffee's lots; what was pulled from the freezer is on the shelf by now.
func (j *job) lots(x *models.Coffee) []bean.Lot {
	var out []bean.Lot
	for _, l := range x.Lots {
		lot := bean.Lot{Code: l.Code, RoastedOn: midnight(l.RoastedOn), Grams: l.Grams, OpenG: l.OpenG, Freezer: l.Place == "freezer"}
		if l.FrozenOn != nil {
			lot.FrozenOn = midnight(*l.FrozenOn)
		}
		if lot.Freezer {
			pulled := min(j.pulled(x.Code, l.Code), lot.Grams)
			if pulled > 0 {
				shelf := lot
				shelf.Freezer, shelf.Grams, shelf.OpenG = false, pulled, 0
				if !lot.FrozenOn.IsZero() { // the days in the freezer do not count
					shelf.RoastedOn = shelf.RoastedOn.Add(max(0, midnight(models.DateOf(j.h.start, j.loc)).Sub(lot.FrozenOn)))
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

func (j *job) pulled(coffee, lot string) float64 {
	g := 0.0
	for _, u := range j.req.UnderWay {
		if u.Kind == models.TaskPull && u.Lot != nil && *u.Lot == lot && (u.Coffee == nil || *u.Coffee == coffee) && u.G != nil {
			g += *u.G
		}
	}
	return g
}

// pulls lists every lot that a day uses: whole packs, and what is used of open ones.
func (j *job) pulls() []models.BeanPull {
	out := []models.BeanPull{}
	for _, d := range j.beans {
		for _, p := range d.day.Picks {
			place := "shelf"
			by := p.PullBy
			if p.Freezer {
				place = "freezer"
				if at, ok := j.h.lastPeople(p.PullBy); ok {
					by = at
				}
			}
			out = append(out, models.BeanPull{Date: d.date, Coffee: j.req.Coffees[d.coffee].Code, Lot: p.Lot, G: p.PulledG + p.OpenG, OpenG: p.OpenG, FromPlace: place,
				PullBy: by.In(j.loc), UseFrom: p.UseFrom.In(j.loc)})
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

// setLots writes into each batch due the lots that it takes, a day's batches in order of time before its drinks made to order.
func (j *job) setLots(batches []models.BatchTask) {
	for _, d := range j.beans {
		left := make([]float64, len(d.day.Picks))
		for i, p := range d.day.Picks {
			left[i] = p.UseG
		}
		loss := 1 - j.req.Coffees[d.coffee].GrinderLossPct/100
		for i := range batches {
			b := &batches[i]
			if b.State != models.Due || b.Date != d.date || j.recipes[j.bevIndex[b.Beverage]].bev.Coffee != j.req.Coffees[d.coffee].Code {
				continue
			}
			want := b.DoseG / loss
			var lots []string
			for k := range left {
				if g := min(left[k], want); g > 1e-9 {
					left[k] -= g
					want -= g
					if !slices.Contains(lots, d.day.Picks[k].Lot) {
						lots = append(lots, d.day.Picks[k].Lot)
					}
				}
			}
			if want < 0.05 {
				b.CoffeeLot = strings.Join(lots, "+")
			}
		}
	}
}
