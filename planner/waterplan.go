package planner

import (
	"math"

	"hotday/models"
	"hotday/planner/water"
)

// waterPlan is the use of treated water, L by slot.
type waterPlan struct {
	brew, ice, rinse, drink []float64
	made                    []float64 // by the treatment
	tank                    []float64 // at the end of the slot
	lack                    []float64 // demand that the tank cannot meet
	draws                   []models.WaterDraw
	dosing                  water.Dosing // of one tank, for the water's composition
}

// planWater adds up the treated water for batches, ice and drinks, and runs the tank.
func planWater(bp *brewPlan) *waterPlan {
	r, h := bp.req, bp.h
	w := &waterPlan{}
	for _, s := range []*[]float64{&w.brew, &w.ice, &w.rinse, &w.drink, &w.made, &w.tank, &w.lack} {
		*s = make([]float64, h.n)
	}
	for i := range bp.batches {
		p := &bp.batches[i]
		w.brew[p.slot] += p.doseG * bp.recipes[bp.options[p.option].bev].unit.BrewWaterG / 1000
		w.rinse[p.slot] += r.Water.RinseLPerBatch
	}
	for t := range h.n {
		w.ice[t] += water.IceWater(bp.drink.run.made[t], r.Water.IceMakingLossPct)
		w.drink[t] = bp.needs.water(r)[t] / 1000
	}
	for _, l := range bp.drink.loads {
		if l.fill >= 0 {
			w.ice[l.fill] += water.IceWater(l.g, r.Water.IceMakingLossPct)
		}
	}
	w.fillTank(bp.setting)
	w.drawWater(bp.setting)
	return w
}

// fillTank runs the water treatment whenever the tank is not full.
func (w *waterPlan) fillTank(st *setting) {
	r := st.req
	out := models.Merged(outages(r, "tank", ""))
	level := min(r.Water.OpeningL, r.Water.TankL)
	for t := range w.tank {
		use := w.brew[t] + w.ice[t] + w.rinse[t] + w.drink[t]
		can := r.Water.MakeLPerH * st.h.hours() * (1 - st.h.sharedPart(out, t))
		w.made[t] = min(can, max(0, r.Water.TankL-level+use))
		have := level + w.made[t]
		w.lack[t] = max(0, use-have)
		if w.lack[t] < 1e-9 {
			w.lack[t] = 0
		}
		level = min(max(0, have-use), r.Water.TankL)
		w.tank[t] = level
	}
}

func (w *waterPlan) drawWater(st *setting) {
	r, h := st.req, st.h
	source, target := water.IonsOf(r.Water.Source), water.Target{Hardness: r.Water.Target.HardnessMgLCaCO3, Alkalinity: r.Water.Target.AlkalinityMgLCaCO3, MgShare: r.Water.Target.MgShare}
	w.dosing = water.Dose(max(1, r.Water.TankL), source, target, r.Water.Salts)
	for k := range h.windows {
		win := &h.windows[k]
		if win.date < r.From {
			continue
		}
		d := models.WaterDraw{Date: win.date, DayPart: win.part.Code, Dose: []models.SaltDose{}}
		to := win.to
		if k == len(h.windows)-1 {
			to = h.n
		}
		d.TankAfterL = min(r.Water.OpeningL, r.Water.TankL)
		if to > 0 {
			d.TankAfterL = w.tank[to-1]
		}
		for t := win.from; t < to; t++ {
			d.BrewL += w.brew[t]
			d.IceL += w.ice[t]
			d.RinseL += w.rinse[t]
			d.DrinkL += w.drink[t]
		}
		d.DrawL = d.BrewL + d.IceL + d.RinseL + d.DrinkL
		if d.DrawL > 0 {
			for _, a := range water.Dose(d.DrawL, source, target, r.Water.Salts).Additions {
				if !math.IsNaN(a.G) && a.G > 0 {
					d.Dose = append(d.Dose, models.SaltDose{Salt: a.Salt, G: a.G})
				}
			}
		}
		w.draws = append(w.draws, d)
	}
}
