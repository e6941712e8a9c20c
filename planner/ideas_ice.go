package planner

import (
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// upTo rounds kg up to half kilograms.
func upTo(kg float64) float64 { return math.Ceil(kg*2) / 2 }

// iceIdeas lists changes against a shortage of ice for drinks at an instant.
func (res *result) iceIdeas(s *subject, at time.Time) []idea {
	bring := res.iceToBring(upTo(res.mostDrinkIce(s.more)*1.1)*1000, at, "way.bring_ice", "")
	out := []idea{
		{action: bring.action, change: func(r *models.PlanRequest) bool {
			r.Ice.OpeningG = min(r.Ice.OpeningG, r.Ice.BinG) + bring.g
			r.Ice.BinG += bring.g
			return true
		}},
		{equipment: true, action: res.q.Say("way.load"), change: func(r *models.PlanRequest) bool {
			for i := range r.Ice.Moulds {
				if m := &r.Ice.Moulds[i]; m.Treated {
					m.LoadsAtOnce++
					return true
				}
			}
			return false
		}},
		{action: res.q.Say("way.less_ice"), change: func(r *models.PlanRequest) bool {
			any := false
			for i := range r.Drinks {
				if d := &r.Drinks[i]; d.ServingIceG > 0 {
					d.ServingIceG = math.Round(d.ServingIceG * 0.85)
					any = true
				}
			}
			return any
		}},
		{action: res.q.Say("way.ice_share"), change: func(r *models.PlanRequest) bool {
			any := false
			for i := range r.Beverages {
				if b := &r.Beverages[i]; b.Bath && b.IceShare > 0.05 {
					b.IceShare = math.Round(b.IceShare*200/3) / 100
					any = true
				}
			}
			return any
		}},
	}
	if full := slices.ContainsFunc(res.drink.run.level, func(g float64) bool { return g >= res.drink.capacity*0.995 && g > 0 }); full {
		out = slices.Insert(out, 1, idea{equipment: true, action: res.q.Say("way.second_bin"), change: func(r *models.PlanRequest) bool {
			r.Ice.BinG = math.Round(r.Ice.BinG * 1.5)
			return true
		}})
	}
	if k := slices.IndexFunc(res.req.Outages, func(o models.Outage) bool { return o.Kind == "maker" || o.Kind == "mould" }); k >= 0 {
		out = append(out, idea{equipment: true, action: res.q.Say("way.repaired", "thing", res.req.Outages[k].Code), change: func(r *models.PlanRequest) bool {
			r.Outages = slices.Delete(r.Outages, k, k+1)
			return true
		}})
	}
	return append(out, res.capIdea(s.day, func(d *models.Drink) float64 { return d.ServingIceG }))
}

// mostDrinkIce returns the largest amount, kg, that any warning about ice for drinks calls for, at least more: a single delivery can
// fix them all.
func (res *result) mostDrinkIce(more float64) float64 {
	for i := range res.warnings {
		if w := &res.warnings[i]; (w.Kind == models.WarnIceShort || w.Kind == models.WarnPlainIce) && w.day >= 0 {
			more = max(more, w.more)
		}
	}
	return more
}

// capIdea stops selling, at four fifths of its expected demand on one day, the drink that takes most of something.
func (res *result) capIdea(day int, takes func(d *models.Drink) float64) idea {
	best, most := -1, 0.0
	mean := make([]float64, len(res.req.Drinks))
	for _, row := range res.needs.rows {
		if day >= 0 && res.h.windows[row.window].date == res.h.days[day] {
			mean[row.drink] += row.rng.Mean()
		}
	}
	for d := range res.req.Drinks {
		if x := takes(&res.req.Drinks[d]) * mean[d]; x > most {
			best, most = d, x
		}
	}
	if best < 0 {
		return idea{action: "", change: func(*models.PlanRequest) bool { return false }}
	}
	drink, date := res.req.Drinks[best], res.h.days[day]
	name := drink.Name
	if name == "" {
		name = drink.Code
	}
	return idea{action: res.q.Say("way.stop", "day", res.q.DayName(date), "drink", name, "n", say.Number(math.Round(0.8*mean[best]), 0)), change: func(r *models.PlanRequest) bool {
		any := false
		for i := range r.Demand {
			if d := &r.Demand[i]; d.Date == date && d.Drink == drink.Code && d.Expected > 0 {
				d.Expected *= 0.8
				if d.P10 != nil && d.P90 != nil {
					low, high := min(*d.P10, d.Expected), d.Expected
					d.P10, d.P90 = &low, &high
				} else {
					low, high := d.Expected*0.5, d.Expected
					d.P10, d.P90 = &low, &high
				}
				any = true
			}
		}
		for i := range r.Forecast {
			if f := &r.Forecast[i]; f.Date == date && f.Drink == drink.Code && f.Mean > 0 {
				f.Mean *= 0.8
				for k := range f.Quantiles {
					f.Quantiles[k] = min(f.Quantiles[k], f.Mean)
				}
				any = true
			}
		}
		return any
	}}
}

// plainIceIdeas lists changes against a lack of ice for baths at an instant.
func (st *setting) plainIceIdeas(s *subject, at time.Time) []idea {
	bring := st.iceToBring(upTo(s.more*1.1)*1000, at, "way.bring_plain", st.q.Say("ice.buy_for_baths"))
	return []idea{
		{action: bring.action, change: func(r *models.PlanRequest) bool {
			p := &r.Ice.Plain
			if p.BinG > 0 {
				p.OpeningG = min(p.OpeningG, p.BinG)
				p.BinG += bring.g
			}
			p.OpeningG += bring.g
			return true
		}},
		{action: st.q.Say("way.rest_bath", "temp", st.q.Temp(60)), change: func(r *models.PlanRequest) bool {
			any := false
			for i := range r.Beverages {
				if b := &r.Beverages[i]; b.Bath && b.Method != models.Steeped && b.RestTempC == nil && b.BrewerOutTempC > 65 {
					rest := 60.0
					b.RestTempC = &rest
					any = true
				}
			}
			return any
		}},
	}
}
