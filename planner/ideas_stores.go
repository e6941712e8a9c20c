package planner

import (
	"fmt"
	"math"
	"slices"

	"hotday/models"
)

func (st *setting) beanIdeas(w *models.Warning, s *subject) []idea {
	c := &st.req.Coffees[s.coffee]
	packs := math.Ceil(w.Amount / c.PackG)
	date := st.req.Site.ServiceDayOf(w.At)
	roasted := date.AddDays(-int(math.Ceil(c.RestDaysMin)) - 1)
	out := []idea{{action: st.q.Say("way.buy", "n", int(packs), "coffee", c.Code, "date", st.q.Day(roasted.At(720, st.loc))), change: func(r *models.PlanRequest) bool {
		x := &r.Coffees[s.coffee]
		code := "bought-in"
		for n := 2; slices.ContainsFunc(x.Lots, func(l models.BeanLot) bool { return l.Code == code }); n++ {
			code = fmt.Sprintf("bought-in-%d", n)
		}
		x.Lots = append(x.Lots, models.BeanLot{Code: code, RoastedOn: roasted, Grams: packs * x.PackG, Place: "shelf"})
		return true
	}}}
	onCoffee := func(action string, f func(x *models.Coffee) bool) {
		out = append(out, idea{action: action, change: func(r *models.PlanRequest) bool { return f(&r.Coffees[s.coffee]) }})
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
		{action: st.q.Say("way.fill"), change: func(r *models.PlanRequest) bool {
			ok := r.Water.OpeningL < r.Water.TankL
			r.Water.OpeningL = r.Water.TankL
			return ok
		}},
		{action: st.q.Say("way.canisters", "volume", st.q.Volume(litres)), change: func(r *models.PlanRequest) bool {
			r.Water.TankL += litres
			r.Water.OpeningL += litres
			return true
		}},
		{equipment: true, action: st.q.Say("way.make_more"), change: func(r *models.PlanRequest) bool {
			ok := r.Water.MakeLPerH > 0
			r.Water.MakeLPerH *= 1.5
			return ok
		}},
		{equipment: true, action: st.q.Say("way.tank_repaired"), change: func(r *models.PlanRequest) bool {
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
		return []idea{{action: st.q.Say("way.cool_box", "mass", st.q.GlanceMass(add)), change: func(r *models.PlanRequest) bool { r.Ice.BinG += add; return true }}}
	case models.WarnColdStoreFull + "|plain ice":
		return []idea{{action: st.q.Say("way.plain_box", "mass", st.q.GlanceMass(add)), change: func(r *models.PlanRequest) bool { r.Ice.Plain.BinG += add; return true }}}
	}
	return []idea{{action: st.q.Say("way.room", "mass", st.q.GlanceMass(add)), change: func(r *models.PlanRequest) bool { r.Site.StoreG += add; return true }}}
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
			out = append(out, idea{action: kt.q.Say("way.smaller", "brewer", code, "mass", kt.q.GlanceMass(math.Floor(m.hi))), change: func(r *models.PlanRequest) bool {
				r.Brewers[b].MinBeverageG = math.Floor(m.hi)
				if sizes := r.Brewers[b].SizesG; len(sizes) > 0 {
					r.Brewers[b].SizesG = append(slices.Clone(sizes), math.Floor(m.hi))
				}
				return m.hi >= 1
			}})
		default:
			out = append(out,
				idea{action: kt.q.Say("way.all_day", "brewer", code), change: func(r *models.PlanRequest) bool {
					ok := len(r.Brewers[b].Available) > 0
					r.Brewers[b].Available = nil
					return ok
				}},
				idea{action: kt.q.Say("way.longer_day"), change: func(r *models.PlanRequest) bool {
					r.Site.SetupMin = min(720, r.Site.SetupMin+60)
					return true
				}},
				idea{equipment: true, action: kt.q.Say("way.repaired", "thing", code), change: func(r *models.PlanRequest) bool {
					n := len(r.Outages)
					r.Outages = slices.DeleteFunc(r.Outages, func(o models.Outage) bool { return o.Kind == "brewer" && o.Code == code })
					return len(r.Outages) < n
				}})
		}
	}
	return out
}
