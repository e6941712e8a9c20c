package planner

import (
	"math"
	"slices"

	"hotday/models"
)

func (res *result) beverageIdeas(s *subject) []idea {
	more := map[string]idea{
		byChance: {action: res.q.Say("way.level"), change: func(r *models.PlanRequest) bool {
			level := 95.0
			ok := res.needs.level(s.bev, s.day) < 0.95
			r.ServiceLevelPct = &level
			return ok
		}},
		byTime: {action: res.q.Say("way.earlier"), change: func(r *models.PlanRequest) bool {
			r.Site.SetupMin = min(720, r.Site.SetupMin+60)
			return true
		}},
		byAttention: {action: res.q.Say("way.hands"), change: func(r *models.PlanRequest) bool {
			r.Site.StartsPerSlot++
			for i := range r.Attention {
				r.Attention[i].Starts++
			}
			return true
		}},
		byHands: res.personIdea(s),
		byBaths: {action: res.q.Say("hands.bath"), change: func(r *models.PlanRequest) bool {
			if r.Site.Baths == nil {
				return false
			}
			n := *r.Site.Baths + 1
			r.Site.Baths = &n
			return true
		}},
		byStore: {equipment: true, action: res.q.Say("way.second_fridge"), change: func(r *models.PlanRequest) bool {
			r.Site.StoreG = math.Round(r.Site.StoreG * 1.5)
			return true
		}},
		byHold: {action: res.q.Say("way.hold_longer"), change: onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := b.HoldH < res.req.Site.MaxHoldH
			b.HoldH = max(b.HoldH, res.req.Site.MaxHoldH)
			return ok
		})},
		byBrewers: {action: res.q.Say("way.another_brewer"), change: func(r *models.PlanRequest) bool {
			code := r.Beverages[s.bev].Code
			for i := range r.Brewers {
				w := &r.Brewers[i]
				if slices.Contains(w.Beverages, code) {
					continue
				}
				if res.sameMethod(w, s.bev) {
					w.Beverages = append(w.Beverages, code)
					return true
				}
			}
			return false
		}},
	}
	more[byNobody] = more[byBrewers]
	more[byCost] = more[byTime]
	repair := idea{equipment: true, action: res.q.Say("way.brewer_repaired"), change: func(r *models.PlanRequest) bool {
		for k, o := range r.Outages {
			if o.Kind != "brewer" {
				continue
			}
			for i := range r.Brewers {
				if r.Brewers[i].Code == o.Code && slices.Contains(r.Brewers[i].Beverages, r.Beverages[s.bev].Code) {
					r.Outages = slices.Delete(r.Outages, k, k+1)
					return true
				}
			}
		}
		return false
	}}
	larger := idea{equipment: true, action: res.q.Say("way.larger", "beverage", res.name(s.bev)), change: func(r *models.PlanRequest) bool {
		any := false
		for i := range r.Brewers {
			w := &r.Brewers[i]
			if !slices.Contains(w.Beverages, r.Beverages[s.bev].Code) {
				continue
			}
			w.MaxBeverageG = math.Round(w.MaxBeverageG * 1.5)
			for _, x := range []*float64{w.MaxDoseG, w.MaxWaterG} {
				if x != nil {
					*x = math.Round(*x * 1.5)
				}
			}
			any = true
		}
		return any
	}}
	var ice []idea
	noon := res.h.days[max(0, s.day)].At(12*60, res.loc)
	switch s.reason {
	case byIce:
		ice = res.iceIdeas(&subject{day: s.day, bev: -1, coffee: -1, more: max(2, s.more*res.recipes[s.bev].icePerG())}, noon)[:3]
	case byBathIce:
		o := slices.IndexFunc(res.options, func(o option) bool { return o.bev == s.bev })
		ice = res.plainIceIdeas(&subject{more: max(2, s.more*res.bathIcePerG(&res.options[o]))}, noon)
	}
	out := append(ice, more[s.reason])
	switch s.reason {
	case byBrewers, byNobody:
		out = append(out, repair, larger, more[byTime], more[byAttention])
	case byHands:
		out = append(out, larger, more[byBaths])
	case byBaths:
		out = append(out, larger, more[byHands])
	case byTime:
		out = append(out, more[byHold], repair)
	case byChance:
		out = append(out, larger)
	default:
		out = append(out, more[byTime], more[byBrewers], more[byHold])
	}
	out = append(out, res.capIdea(s.day, func(d *models.Drink) float64 {
		g := 0.0
		for _, u := range d.Uses {
			if u.Beverage == res.req.Beverages[s.bev].Code {
				g += u.G
			}
		}
		return g
	}))
	return slices.DeleteFunc(out, func(x idea) bool { return x.change == nil })
}

// sameMethod reports whether a brewer already makes a beverage by bev's method, so that it could make bev too.
func (st *setting) sameMethod(w *models.Brewer, bev int) bool {
	steeped := st.req.Beverages[bev].Method == models.Steeped
	for _, code := range w.Beverages {
		if (st.req.Beverages[st.bevIndex[code]].Method == models.Steeped) == steeped {
			return true
		}
	}
	return len(w.Beverages) == 0
}
