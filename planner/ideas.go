package planner

import (
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/brew"
)

// idea is a change that may help: false where it does not apply.
type idea struct {
	action string
	change func(r *models.PlanRequest) bool
}

// ideas are the changes that may help against a warning, the most promising first.
func (j *job) ideas(w *models.Warning, s *subject) []idea {
	switch w.Kind {
	case models.WarnIceShort:
		if s.day < 0 {
			return j.plainIceIdeas(s)
		}
		return j.iceIdeas(s)
	case models.WarnPlainIce:
		return j.iceIdeas(&subject{day: s.day, bev: -1, coffee: -1, more: max(1, s.more)})
	case models.WarnBeverageShort:
		return j.beverageIdeas(s)
	case models.WarnBeansShort:
		return j.beanIdeas(w, s)
	case models.WarnWaterShort:
		return j.waterIdeas(w)
	case models.WarnColdStoreFull:
		return j.storeIdeas(w, s)
	case models.WarnBrewerOverrun:
		return j.overrunIdeas(s)
	case models.WarnTargetTemp, models.WarnCoolingSlow:
		return j.coldIdeas(s)
	case models.WarnHoldTooLong:
		return j.holdIdeas(s)
	case models.WarnStrengthOff, models.WarnYieldDoubtful:
		return j.strengthIdeas(s)
	case models.WarnSteepWarm:
		return []idea{{fmt.Sprintf("Steep %s at %.0f °C", j.name(s.bev), coldC), onBeverage(s.bev, func(b *models.Beverage) bool { b.SteepTempC = coldC; return true })}}
	case models.WarnLimitLax:
		return []idea{
			{fmt.Sprintf("Set the cold store to %.0f °C or colder", coldC), func(r *models.PlanRequest) bool {
				ok := r.Site.StoreTempC > coldC
				r.Site.StoreTempC = min(r.Site.StoreTempC, coldC)
				return ok && w.Unit == "°C"
			}},
			{fmt.Sprintf("Hold no longer than %.0f h", longHoldH), func(r *models.PlanRequest) bool {
				ok := r.Site.MaxHoldH > longHoldH
				r.Site.MaxHoldH = min(r.Site.MaxHoldH, longHoldH)
				return ok && w.Unit == "h"
			}},
		}
	}
	return nil
}

func onBeverage(i int, f func(b *models.Beverage) bool) func(r *models.PlanRequest) bool {
	return func(r *models.PlanRequest) bool { return i >= 0 && i < len(r.Beverages) && f(&r.Beverages[i]) }
}

// upTo rounds an amount of kg up to half kilograms, as bags come.
func upTo(kg float64) float64 { return math.Ceil(kg*2) / 2 }

func (j *job) iceIdeas(s *subject) []idea {
	bring := upTo(s.more * 1.1)
	out := []idea{
		{fmt.Sprintf("Bring in %.1f kg of ice of drinking quality, with a cool box for it", bring), func(r *models.PlanRequest) bool {
			r.Ice.OpeningG = min(r.Ice.OpeningG, r.Ice.BinG) + bring*1000
			r.Ice.BinG += bring * 1000
			return true
		}},
		{"Freeze one more load at a time in the moulds", func(r *models.PlanRequest) bool {
			for i := range r.Ice.Moulds {
				if m := &r.Ice.Moulds[i]; m.Treated {
					m.LoadsAtOnce++
					return true
				}
			}
			return false
		}},
		{"Put 15 % less serving ice into each glass", func(r *models.PlanRequest) bool {
			any := false
			for i := range r.Drinks {
				if d := &r.Drinks[i]; d.ServingIceG > 0 {
					d.ServingIceG = math.Round(d.ServingIceG * 0.85)
					any = true
				}
			}
			return any
		}},
		{"Brew flash recipes with a smaller ice share (two thirds of it) and cool them longer in the bath", func(r *models.PlanRequest) bool {
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
	if full := slices.ContainsFunc(j.drink.run.level, func(g float64) bool { return g >= j.drink.capacity*0.995 && g > 0 }); full {
		out = slices.Insert(out, 1, idea{"Keep half as much ice again, in a second bin, so that the makers need not stop overnight", func(r *models.PlanRequest) bool {
			r.Ice.BinG = math.Round(r.Ice.BinG * 1.5)
			return true
		}})
	}
	if k := slices.IndexFunc(j.req.Outages, func(o models.Outage) bool { return o.Kind == "maker" || o.Kind == "mould" }); k >= 0 {
		out = append(out, idea{fmt.Sprintf("Have %s working again", j.req.Outages[k].Code), func(r *models.PlanRequest) bool {
			r.Outages = slices.Delete(r.Outages, k, k+1)
			return true
		}})
	}
	return append(out, j.capIdea(s.day, func(d *models.Drink) float64 { return d.ServingIceG }))
}

// capIdea caps the drink that takes most of something at the middle of its range, on one day.
func (j *job) capIdea(day int, takes func(d *models.Drink) float64) idea {
	best, most := -1, 0.0
	mean := make([]float64, len(j.req.Drinks))
	for _, row := range j.needs.rows {
		if day >= 0 && j.h.windows[row.window].date == j.h.days[day] {
			mean[row.drink] += row.rng.Mean()
		}
	}
	for d := range j.req.Drinks {
		if x := takes(&j.req.Drinks[d]) * mean[d]; x > most {
			best, most = d, x
		}
	}
	if best < 0 {
		return idea{"", func(*models.PlanRequest) bool { return false }}
	}
	drink, date := j.req.Drinks[best], j.h.days[day]
	name := drink.Name
	if name == "" {
		name = drink.Code
	}
	return idea{fmt.Sprintf("On %s stop offering %s at four fifths of what is expected", dayName(date), name), func(r *models.PlanRequest) bool {
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

func (j *job) plainIceIdeas(s *subject) []idea {
	bring := upTo(s.more * 1.1)
	return []idea{
		{fmt.Sprintf("Bring in %.1f kg of plain ice for the baths", bring), func(r *models.PlanRequest) bool {
			p := &r.Ice.Plain
			if p.BinG > 0 {
				p.OpeningG = min(p.OpeningG, p.BinG)
				p.BinG += bring * 1000
			}
			p.OpeningG += bring * 1000
			return true
		}},
		{"Let hot brews rest to 60 °C before the bath", func(r *models.PlanRequest) bool {
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

func (j *job) beverageIdeas(s *subject) []idea {
	more := map[string]idea{
		byChance: {"Prepare for 95 % of days", func(r *models.PlanRequest) bool {
			level := 95.0
			ok := j.needs.levels[s.bev] < 0.95
			r.ServiceLevelPct = &level
			return ok
		}},
		byTime: {"Let people begin an hour earlier", func(r *models.PlanRequest) bool {
			r.Site.SetupMin = min(720, r.Site.SetupMin+60)
			return true
		}},
		byAttention: {"Have one more pair of hands to start batches", func(r *models.PlanRequest) bool {
			r.Site.StartsPerSlot++
			for i := range r.Attention {
				r.Attention[i].Starts++
			}
			return true
		}},
		byStore: {"Keep half as much again cold, in a second fridge", func(r *models.PlanRequest) bool {
			r.Site.StoreG = math.Round(r.Site.StoreG * 1.5)
			return true
		}},
		byHold: {"Hold it as long as the site allows", onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := b.HoldH < j.req.Site.MaxHoldH
			b.HoldH = max(b.HoldH, j.req.Site.MaxHoldH)
			return ok
		})},
		byBrewers: {"Brew it on another brewer too", func(r *models.PlanRequest) bool {
			code := r.Beverages[s.bev].Code
			for i := range r.Brewers {
				w := &r.Brewers[i]
				if slices.Contains(w.Beverages, code) {
					continue
				}
				if j.sameMethod(w, s.bev) {
					w.Beverages = append(w.Beverages, code)
					return true
				}
			}
			return false
		}},
	}
	more[byNobody] = more[byBrewers]
	more[byCost] = more[byTime]
	repair := idea{"Have the brewer that is out working again", func(r *models.PlanRequest) bool {
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
	larger := idea{fmt.Sprintf("Brew %s in batches half as large again, in a larger vessel", j.name(s.bev)), func(r *models.PlanRequest) bool {
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
	if s.reason == byIce {
		ice = j.iceIdeas(&subject{day: s.day, bev: -1, coffee: -1, more: max(2, s.more*j.recipes[s.bev].icePerG())})[:3]
	}
	out := append(ice, more[s.reason])
	switch s.reason {
	case byBrewers, byNobody:
		out = append(out, repair, larger, more[byTime], more[byAttention])
	case byTime:
		out = append(out, more[byHold], repair)
	case byChance:
		out = append(out, larger)
	default:
		out = append(out, more[byTime], more[byBrewers], more[byHold])
	}
	out = append(out, j.capIdea(s.day, func(d *models.Drink) float64 {
		g := 0.0
		for _, u := range d.Uses {
			if u.Beverage == j.req.Beverages[s.bev].Code {
				g += u.G
			}
		}
		return g
	}))
	return slices.DeleteFunc(out, func(x idea) bool { return x.change == nil })
}

// sameMethod reports whether a brewer makes some beverage by the method of bev, so that it could make bev too.
func (j *job) sameMethod(w *models.Brewer, bev int) bool {
	steeped := j.req.Beverages[bev].Method == models.Steeped
	for _, code := range w.Beverages {
		if (j.req.Beverages[j.bevIndex[code]].Method == models.Steeped) == steeped {
			return true
		}
	}
	return len(w.Beverages) == 0
}

func (j *job) beanIdeas(w *models.Warning, s *subject) []idea {
	c := &j.req.Coffees[s.coffee]
	packs := math.Ceil(w.Amount / c.PackG)
	date := j.req.Site.ServiceDayOf(w.At)
	roasted := date.AddDays(-int(math.Ceil(c.RestDaysMin)) - 1)
	out := []idea{{fmt.Sprintf("Buy in %.0f packs of %s roasted on or before %s", packs, c.Code, roasted), func(r *models.PlanRequest) bool {
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
		onCoffee("Use it two days younger than the shop's rule", func(x *models.Coffee) bool {
			ok := x.RestDaysMin > 0
			x.RestDaysMin = max(0, x.RestDaysMin-2)
			return ok
		})
	case "too_old":
		onCoffee("Use it a week older than the shop's rule", func(x *models.Coffee) bool { x.RestDaysMax += 7; return true })
	case "thaw_late":
		onCoffee("Thaw in half the time, packs spread out", func(x *models.Coffee) bool { x.ThawH = math.Floor(x.ThawH / 2); return true })
	}
	return out
}

func (j *job) waterIdeas(w *models.Warning) []idea {
	litres := math.Ceil(w.Amount*1.1/5) * 5
	return []idea{
		{"Fill the tank before the first draw", func(r *models.PlanRequest) bool {
			ok := r.Water.OpeningL < r.Water.TankL
			r.Water.OpeningL = r.Water.TankL
			return ok
		}},
		{fmt.Sprintf("Bring in %.0f L of water of drinking quality that fits the target, in canisters", litres), func(r *models.PlanRequest) bool {
			r.Water.TankL += litres
			r.Water.OpeningL += litres
			return true
		}},
		{"Let the treatment make half as much again an hour", func(r *models.PlanRequest) bool {
			ok := r.Water.MakeLPerH > 0
			r.Water.MakeLPerH *= 1.5
			return ok
		}},
		{"Have the tank working again", func(r *models.PlanRequest) bool {
			n := len(r.Outages)
			r.Outages = slices.DeleteFunc(r.Outages, func(o models.Outage) bool { return o.Kind == "tank" })
			return len(r.Outages) < n
		}},
	}
}

func (j *job) storeIdeas(w *models.Warning, s *subject) []idea {
	add := math.Ceil(w.Amount) * 1000
	switch s.key {
	case models.WarnColdStoreFull + "|ice":
		return []idea{{fmt.Sprintf("Keep %s of ice in a cool box beside the bin", kg(add)), func(r *models.PlanRequest) bool { r.Ice.BinG += add; return true }}}
	case models.WarnColdStoreFull + "|plain ice":
		return []idea{{fmt.Sprintf("Keep %s of plain ice in a box of its own", kg(add)), func(r *models.PlanRequest) bool { r.Ice.Plain.BinG += add; return true }}}
	}
	return []idea{{fmt.Sprintf("Find room for %s in another cold store", kg(add)), func(r *models.PlanRequest) bool { r.Site.StoreG += add; return true }}}
}

func (j *job) overrunIdeas(s *subject) []idea {
	var out []idea
	for _, m := range j.misfits {
		if m.bev != s.bev || models.WarnBrewerOverrun+"|"+j.req.Brewers[m.brewer].Code+"|"+j.req.Beverages[m.bev].Code != s.key {
			continue
		}
		b := m.brewer
		code := j.req.Brewers[b].Code
		switch s.reason {
		case "size":
			out = append(out, idea{fmt.Sprintf("Brew smaller batches on %s: %s", code, kg(math.Floor(m.hi))), func(r *models.PlanRequest) bool {
				r.Brewers[b].MinBeverageG = math.Floor(m.hi)
				return m.hi >= 1
			}})
		default:
			out = append(out,
				idea{fmt.Sprintf("Have %s available all day", code), func(r *models.PlanRequest) bool {
					ok := len(r.Brewers[b].Available) > 0
					r.Brewers[b].Available = nil
					return ok
				}},
				idea{"Let people begin an hour earlier and stay an hour longer", func(r *models.PlanRequest) bool {
					r.Site.SetupMin = min(720, r.Site.SetupMin+60)
					return true
				}},
				idea{fmt.Sprintf("Have %s working again", code), func(r *models.PlanRequest) bool {
					n := len(r.Outages)
					r.Outages = slices.DeleteFunc(r.Outages, func(o models.Outage) bool { return o.Kind == "brewer" && o.Code == code })
					return len(r.Outages) < n
				}})
		}
	}
	return out
}

func (j *job) coldIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	rc := j.recipes[s.bev]
	name := j.name(s.bev)
	share := rc.split.ShareNeeded
	if !math.IsNaN(share) {
		share = math.Ceil(share*100) / 100
	}
	rest := math.Floor(rc.needC)
	out := []idea{
		{fmt.Sprintf("Cool %s in an ice bath before the ice goes in", name), onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := !b.Bath || b.BathTempC > 1
			b.Bath, b.BathTempC = true, min(b.BathTempC, 1)
			return ok
		})},
		{fmt.Sprintf("Let %s rest to %.0f °C before the ice goes in", name, rest), onBeverage(s.bev, func(b *models.Beverage) bool {
			if b.Method == models.Steeped || rest < roomC || rest >= rc.outC {
				return false
			}
			b.RestTempC = &rest
			return true
		})},
		{fmt.Sprintf("Brew %s with an ice share of %.2f", name, share), onBeverage(s.bev, func(b *models.Beverage) bool {
			if math.IsNaN(share) || share >= 1 || share <= b.IceShare || b.Method != models.Flash {
				return false
			}
			b.IceShare = share
			return true
		})},
		{fmt.Sprintf("Set the target of %s to %.0f °C, and the store no warmer than 4 °C", name, coldC), func(r *models.PlanRequest) bool {
			b := &r.Beverages[s.bev]
			ok := b.TargetTempC > coldC || r.Site.StoreTempC > 4
			b.TargetTempC, r.Site.StoreTempC = min(b.TargetTempC, coldC), min(r.Site.StoreTempC, 4)
			return ok
		}},
	}
	if !rc.reaches {
		nearest := math.Ceil(rc.after.FinalC)
		out = append(out, idea{fmt.Sprintf("Set the target of %s to %.0f °C", name, nearest), onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := nearest > b.TargetTempC && nearest <= 60
			b.TargetTempC = nearest
			return ok
		})})
	}
	return out
}

func (j *job) holdIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	return []idea{{fmt.Sprintf("Say %.0f h at %s, as the site does", j.req.Site.MaxHoldH, j.name(s.bev)), onBeverage(s.bev, func(b *models.Beverage) bool {
		ok := b.HoldH > j.req.Site.MaxHoldH
		b.HoldH = min(b.HoldH, j.req.Site.MaxHoldH)
		return ok
	})}}
}

// strengthIdeas finds the ratio at which the modelled strength is the target's.
func (j *job) strengthIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	b := &j.req.Beverages[s.bev]
	tds := func(ratio float64) float64 {
		return brew.Recipe{Ratio: ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}.FinalTDSPct()
	}
	lo, hi := (b.RetainedRatio+0.2)/(1-b.IceShare), 100.0
	if !(tds(lo) > b.TargetTDSPct && tds(hi) < b.TargetTDSPct) {
		return nil
	}
	for range 60 {
		if mid := (lo + hi) / 2; tds(mid) > b.TargetTDSPct {
			lo = mid
		} else {
			hi = mid
		}
	}
	ratio := math.Round(lo*10) / 10
	return []idea{{fmt.Sprintf("Brew %s at 1:%.1f", j.name(s.bev), ratio), onBeverage(s.bev, func(x *models.Beverage) bool {
		ok := ratio != x.Ratio
		x.Ratio = ratio
		return ok
	})}}
}
