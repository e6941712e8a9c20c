package planner

import (
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/say"
)

func (st *setting) beanIdeas(w *models.Warning, s *subject) []idea {
	c := &st.req.Coffees[s.coffee]
	packs := math.Ceil(w.Amount / c.PackG)
	date := st.req.Site.ServiceDayOf(w.At)
	roasted := date.AddDays(-int(math.Ceil(c.RestDaysMin)) - 1)
	out := []idea{{st.q.Say("way.buy", "packs", say.Number(packs, 0), "coffee", c.Code, "date", roasted), func(r *models.PlanRequest) bool {
		x := &r.Coffees[s.coffee]
		code := "bought-in"
		for n := 2; slices.ContainsFunc(x.Lots, func(l models.BeanLot) bool { return l.Code == code }); n++ {
			code = fmt.Sprintf("bought-in-%d", n)
		}
		x.Lots = append(x.Lots, models.BeanLot{Code: code, RoastedOn: roasted, Grams: packs * x.PackG, Place: "shelf"})
		return true
	}}}
	onCoffee := func(action string, f func(x *models.Coffee) bool) {
		out = append(out, idea{action, func(r *models.PlanRequest) bool { return f(&r.Coffees[s.coffee]) }})
	}
	switch s.reason {
	case "too_young":
		onCoffee(st.q.Say("way.younger"), func(x *models.Coffee) bool {
			ok := x.RestDaysMin > 0
			x.RestDaysMin = max(0, x.RestDaysMin-2)
			return ok
		})
	case "too_old":
		onCoffee(st.q.Say("way.older"), func(x *models.Coffee) bool { x.RestDaysMax += 7; return true })
	case "thaw_late":
		onCoffee(st.q.Say("way.thaw"), func(x *models.Coffee) bool { x.ThawH = math.Floor(x.ThawH / 2); return true })
	}
	return out
}

func (st *setting) waterIdeas(w *models.Warning) []idea {
	litres := math.Ceil(w.Amount*1.1/5) * 5
	return []idea{
		{st.q.Say("way.fill"), func(r *models.PlanRequest) bool {
			ok := r.Water.OpeningL < r.Water.TankL
			r.Water.OpeningL = r.Water.TankL
			return ok
		}},
		{st.q.Say("way.canisters", "volume", st.q.Volume(litres)), func(r *models.PlanRequest) bool {
			r.Water.TankL += litres
			r.Water.OpeningL += litres
			return true
		}},
		{st.q.Say("way.make_more"), func(r *models.PlanRequest) bool {
			ok := r.Water.MakeLPerH > 0
			r.Water.MakeLPerH *= 1.5
			return ok
		}},
		{st.q.Say("way.tank_repaired"), func(r *models.PlanRequest) bool {
			n := len(r.Outages)
			r.Outages = slices.DeleteFunc(r.Outages, func(o models.Outage) bool { return o.Kind == "tank" })
			return len(r.Outages) < n
		}},
	}
}

func (st *setting) storeIdeas(w *models.Warning, s *subject) []idea {
	add := math.Ceil(w.Amount) * 1000
	switch s.key {
	case models.WarnColdStoreFull + "|ice":
		return []idea{{st.q.Say("way.cool_box", "mass", st.q.GlanceMass(add)), func(r *models.PlanRequest) bool { r.Ice.BinG += add; return true }}}
	case models.WarnColdStoreFull + "|plain ice":
		return []idea{{st.q.Say("way.plain_box", "mass", st.q.GlanceMass(add)), func(r *models.PlanRequest) bool { r.Ice.Plain.BinG += add; return true }}}
	}
	return []idea{{st.q.Say("way.room", "mass", st.q.GlanceMass(add)), func(r *models.PlanRequest) bool { r.Site.StoreG += add; return true }}}
}

func (kt *kitchen) overrunIdeas(s *subject) []idea {
	var out []idea
	for _, m := range kt.misfits {
		if m.bev != s.bev || models.WarnBrewerOverrun+"|"+kt.req.Brewers[m.brewer].Code+"|"+kt.req.Beverages[m.bev].Code != s.key {
			continue
		}
		b := m.brewer
		code := kt.req.Brewers[b].Code
		switch s.reason {
		case "size":
			out = append(out, idea{kt.q.Say("way.smaller", "brewer", code, "mass", kt.q.GlanceMass(math.Floor(m.hi))), func(r *models.PlanRequest) bool {
				r.Brewers[b].MinBeverageG = math.Floor(m.hi)
				if sizes := r.Brewers[b].SizesG; len(sizes) > 0 {
					r.Brewers[b].SizesG = append(slices.Clone(sizes), math.Floor(m.hi))
				}
				return m.hi >= 1
			}})
		default:
			out = append(out,
				idea{kt.q.Say("way.all_day", "brewer", code), func(r *models.PlanRequest) bool {
					ok := len(r.Brewers[b].Available) > 0
					r.Brewers[b].Available = nil
					return ok
				}},
				idea{kt.q.Say("way.longer_day"), func(r *models.PlanRequest) bool {
					r.Site.SetupMin = min(720, r.Site.SetupMin+60)
					return true
				}},
				idea{kt.q.Say("way.repaired", "thing", code), func(r *models.PlanRequest) bool {
					n := len(r.Outages)
					r.Outages = slices.DeleteFunc(r.Outages, func(o models.Outage) bool { return o.Kind == "brewer" && o.Code == code })
					return len(r.Outages) < n
				}})
		}
	}
	return out
}
