package planner

import (
	"math"
	"time"

	"hotday/models"
	"hotday/planner/water"
)

// waterPlan is the use of treated water by slot, the fills of brewing water for it and the tank, L.
type waterPlan struct {
	brew, ice, drink []float64 // brewing water, from containers
	plumbed, rinse   []float64 // straight from the tank
	carried          float64   // brewing water left in containers at the start
	recipe           water.Recipe
	tank             water.Tank
	filling          water.Filling
	draws            []models.WaterDraw
	mixes            []models.Mix
	dosing           water.Dosing // the water's composition
}

// groupH is how far ahead a fill in containers of a given size looks, h: people fill for the next batches at one go.
const groupH = 1.0

// keepWaterH is how long before its use brewing water may be filled, h: an assumption. Closed containers keep it over a night and a
// closed day.
const keepWaterH = 48.0

// planWater adds up the treated water for batches, ice and drinks, and plans the fills that prepare it.
func planWater(bp *brewPlan) *waterPlan {
	w := bp.waterUse()
	r := bp.req
	k := &w.tank
	w.filling = k.Fill(added(w.brew, w.ice, w.drink), bp.fills(w))
	w.dosing = water.Dose(1, water.IonsOf(r.Water.Source), targetOf(&r.Water), r.Water.Salts)
	bp.listDraws(w)
	bp.listMixes(w)
	return w
}

// waterUse adds up the uses of treated water by slot.
func (bp *brewPlan) waterUse() *waterPlan {
	r, h := bp.req, bp.h
	w := &waterPlan{}
	for _, s := range []*[]float64{&w.brew, &w.ice, &w.drink, &w.plumbed, &w.rinse} {
		*s = make([]float64, h.n)
	}
	for i := range bp.batches {
		p := &bp.batches[i]
		w.brew[p.slot] += p.waterG / 1000
		w.rinse[p.slot] += r.Water.RinseLPerBatch
	}
	makes := bp.drink.makeable()
	for _, m := range bp.drink.makers {
		to := w.ice
		if r.Ice.Makers[m.row].Plumbed {
			to = w.plumbed
		}
		for t := range h.n {
			if makes[t] > 0 {
				to[t] += water.IceWater(bp.drink.run.made[t]*m.g[t]/makes[t], r.Water.IceMakingLossPct)
			}
		}
	}
	for t, g := range bp.needs.water(r) {
		w.drink[t] += g / 1000
	}
	for _, l := range bp.drink.loads {
		if l.fill >= 0 {
			w.ice[l.fill] += water.IceWater(l.g, r.Water.IceMakingLossPct)
		}
	}
	w.carried = bp.carriedWater()
	w.recipe = bp.waterRecipe()
	w.tank = bp.tank(added(w.plumbed, w.rinse))
	return w
}

func targetOf(w *models.Water) water.Target {
	return water.Target{Hardness: w.Target.HardnessMgLCaCO3, Alkalinity: w.Target.AlkalinityMgLCaCO3, MgShare: w.Target.MgShare}
}

func (st *setting) waterRecipe() water.Recipe {
	w := &st.req.Water
	return water.RecipeFor(water.IonsOf(w.Source), targetOf(w), w.Salts, w.ContainerL)
}

// tank is the tank of the treatment, with the water taken straight from it by slot.
func (st *setting) tank(taken []float64) water.Tank {
	r := st.req
	k := water.Tank{Opening: min(r.Water.OpeningL, r.Water.TankL), Size: r.Water.TankL, Make: make([]float64, st.h.n), Taken: taken}
	out := models.Merged(outages(r, "tank", ""))
	for t := range k.Make {
		k.Make[t] = r.Water.MakeLPerH * st.h.hours() * (1 - st.h.sharedPart(out, t))
	}
	return k
}

// fills states who can fill containers and when.
func (bp *brewPlan) fills(w *waterPlan) water.Fills {
	h := bp.h
	f := water.Fills{Recipe: w.recipe, SizeL: bp.req.Water.ContainerL, CarriedL: w.carried, FillMin: bp.req.Site.Work().Fill,
		SlotMin: h.slot.Minutes(), RoomMin: bp.fillRoom(), Until: make([]int, h.n), KeepSlots: int(keepWaterH / h.hours())}
	for t := range f.Until {
		f.Until[t] = h.n
		if k := h.windowAt(t); k >= 0 && k < len(h.windows)-1 {
			f.Until[t] = h.windows[k].to
		}
		if f.SizeL > 0 {
			f.Until[t] = min(f.Until[t], t+max(1, int(groupH/h.hours())))
		}
	}
	return f
}

// fillRoom returns, by slot, how long somebody is there from its start with the tank in order, min.
func (st *setting) fillRoom() []float64 {
	out := st.peopleRoom()
	gone := outages(st.req, "tank", "")
	for t := range out {
		at := st.h.at(t)
		for _, o := range gone {
			switch {
			case o.Contains(at):
				out[t] = 0
			case o.From.After(at):
				out[t] = min(out[t], o.From.Sub(at).Minutes())
			}
		}
	}
	return out
}

func added(series ...[]float64) []float64 {
	out := make([]float64, len(series[0]))
	for _, s := range series {
		for t, x := range s {
			out[t] += x
		}
	}
	return out
}

// carriedWater is the brewing water left in containers when the plan begins, L: the fills under way or made in the last two days, less
// the batches and trays begun since and the water of drinks sold since.
func (kt *kitchen) carriedWater() float64 {
	r := kt.req
	filled := 0.0
	var first time.Time
	for i := range r.UnderWay {
		u := &r.UnderWay[i]
		if u.Kind != models.TaskWaterDraw || u.L == nil || kt.h.start.Sub(u.Start).Hours() > keepWaterH {
			continue
		}
		filled += *u.L
		if first.IsZero() || u.Start.Before(first) {
			first = u.Start
		}
	}
	if filled <= 0 {
		return 0
	}
	used := 0.0
	for i := range kt.kept {
		if b := &kt.kept[i]; !b.task.Start.Before(first) {
			used += b.doseG * kt.recipes[b.bev].unit.BrewWaterG / 1000
		}
	}
	for i := range r.UnderWay {
		u := &r.UnderWay[i]
		if (u.Kind == models.TaskIceFill || u.Kind == models.TaskIceRefill) && u.G != nil && !u.Start.Before(first) {
			used += water.IceWater(*u.G, r.Water.IceMakingLossPct)
		}
	}
	for _, s := range r.Sold {
		for d := range r.Drinks {
			if r.Drinks[d].Code == s.Drink && s.Until.After(first) {
				used += s.Count * r.Drinks[d].WaterG / 1000
			}
		}
	}
	return max(0, filled-used)
}

// part is a share of the brewing water that is still in containers.
type part struct {
	draw int // index in waterPlan.draws; −1: carried over
	l    float64
}

// listDraws writes out the fills: full containers and the last one apart, each with the uses of its water.
func (bp *brewPlan) listDraws(w *waterPlan) {
	r, h := bp.req, bp.h
	size, perFill := r.Water.ContainerL, models.Minutes(r.Site.Work().Fill)
	queue := []part{{-1, w.carried}}
	for t := range h.n {
		if v := w.filling.Volume[t]; v > 0 {
			full := 0.0
			if size > 0 {
				full = math.Floor(v/size+1e-9) * size
			}
			at, left := h.at(t), w.filling.Run.Before[t]
			for _, l := range []float64{full, v - full} {
				if l < 1e-9 {
					continue
				}
				d := bp.drawOf(w, l)
				left -= d.ROL
				d.At, d.TankAfterL = at.In(bp.loc), max(0, left)
				at = at.Add(time.Duration(d.Containers) * perFill)
				queue = append(queue, part{len(w.draws), l})
				w.draws = append(w.draws, d)
			}
		}
		there := w.brew[t] + w.ice[t] + w.drink[t] - w.filling.Lack[t]
		for _, use := range []struct {
			l  float64
			to func(d *models.WaterDraw) *float64
		}{{w.brew[t], func(d *models.WaterDraw) *float64 { return &d.BrewL }}, {w.ice[t], func(d *models.WaterDraw) *float64 { return &d.IceL }},
			{w.drink[t], func(d *models.WaterDraw) *float64 { return &d.DrinkL }}} {
			l := min(use.l, max(0, there))
			there -= l
			queue = bp.useWater(w, queue, l, t, use.to)
		}
	}
	for i := range w.draws {
		d := &w.draws[i]
		if d.By.IsZero() { // nothing is left to use it for
			d.By = d.At
		}
		if k := h.windowAt(max(0, h.slotOf(d.By))); k >= 0 {
			d.Date, d.DayPart = h.windows[k].date, h.windows[k].part.Code
		} else { // after the last part
			d.Date, d.DayPart = r.Site.ServiceDayOf(d.By), r.Site.DayParts[len(r.Site.DayParts)-1].Code
		}
	}
}

// useWater takes l L in slot t from the containers filled first.
func (bp *brewPlan) useWater(w *waterPlan, queue []part, l float64, t int, to func(d *models.WaterDraw) *float64) []part {
	for l > 1e-9 && len(queue) > 0 {
		x := min(l, queue[0].l)
		l -= x
		if k := queue[0].draw; k >= 0 && x > 0 {
			*to(&w.draws[k]) += x
			if w.draws[k].By.IsZero() {
				w.draws[k].By = bp.h.at(t)
			}
		}
		if queue[0].l -= x; queue[0].l <= 1e-9 {
			queue = queue[1:]
		}
	}
	return queue
}

// drawOf is the recipe of a fill of l L.
func (bp *brewPlan) drawOf(w *waterPlan, l float64) models.WaterDraw {
	size := bp.req.Water.ContainerL
	ro := w.recipe.TankL(l, size)
	d := models.WaterDraw{Containers: water.Containers(l, size), DrawL: l, ROL: ro, TapL: max(0, l-ro), Dose: []models.SaltDose{}}
	for _, c := range w.recipe.Concentrates {
		if ml := c.ML(l); ml > 0 {
			d.Concentrates = append(d.Concentrates, models.ConcentrateDose{Code: c.Code, ML: ml})
		}
	}
	for _, a := range w.recipe.Salts(l) {
		if g := math.Round(a.G*100) / 100; g > 0 {
			d.Dose = append(d.Dose, models.SaltDose{Salt: a.Salt, G: g})
		}
	}
	return d
}

// lack returns the treated water missing in each slot, for fills and straight from the tank, L.
func (w *waterPlan) lack() []float64 { return added(w.filling.Lack, w.filling.Run.Lack) }

// total is all the treated water of the plan, L.
func (w *waterPlan) total() float64 {
	l := models.Sum(w.plumbed) + models.Sum(w.rinse)
	for _, d := range w.draws {
		l += d.ROL
	}
	return l
}

// tankPlan is the tank over all days.
func (bp *brewPlan) tankPlan(w *waterPlan) *models.TankPlan {
	run := &w.filling.Run
	p := &models.TankPlan{OpeningL: w.tank.Opening, MadeL: models.Sum(run.Made), DrawnL: models.Sum(w.filling.Drawn), IceL: models.Sum(w.plumbed),
		RinseL: models.Sum(w.rinse), ShortL: models.Sum(run.Lack), Levels: []models.TankLevel{}}
	p.LeftL = p.OpeningL
	if bp.h.n > 0 {
		p.LeftL = run.Level[bp.h.n-1]
	}
	for t, l := range run.Before {
		p.Levels = append(p.Levels, models.TankLevel{At: bp.h.at(t), L: l})
	}
	p.Levels = append(p.Levels, models.TankLevel{At: bp.h.at(bp.h.n), L: p.LeftL})
	return p
}
