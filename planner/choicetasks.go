package planner

import (
	"hotday/models"
)

// choiceList writes out the choices, and names in each of their batches the choice that it belongs to.
func (dr *draft) choiceList(batches []models.BatchTask) []models.Choice {
	var out []models.Choice
	taskOf := dr.batchesByLot(batches)
	for i := range dr.choices {
		c := &dr.choices[i]
		var b *models.BatchTask
		var p *planned
		for k := range dr.batches {
			if sameBatch(&dr.result.Starts[k], &c.batch) {
				p = &dr.batches[k]
				b = taskOf[p.lot]
			}
		}
		if b == nil {
			continue
		}
		x := models.Choice{Date: b.Date, LookAt: dr.h.at(c.slot), Beverage: b.Beverage, Brewer: b.Brewer, Saves: c.saves}
		x.ID = string(b.Date) + ".look." + b.Beverage
		b.Choice, b.LookAt = x.ID, x.LookAt
		for k := range c.options {
			o := models.ChoiceOption{Chance: c.taken[k]}
			if k < len(c.below) {
				o.BelowG = &c.below[k]
			}
			if a := &c.options[k]; a.g > 0 {
				t := dr.sizedTask(b, p, a, k == 0)
				o.Batch = &t
			}
			x.Options = append(x.Options, o)
		}
		out = append(out, x)
	}
	return out
}

// sizedTask is a planned batch in another size, its lots and ice bath in proportion.
func (dr *draft) sizedTask(b *models.BatchTask, p *planned, a *amounts, own bool) models.BatchTask {
	if own {
		return *b
	}
	rc := dr.recipes[dr.options[p.option].bev]
	brewer := &dr.req.Brewers[dr.options[p.option].brewer]
	t := dr.task(rc, a, b.Start, rc.timesOf(a.ext.BeverageG, brewer.BusyMin), nil)
	share := a.g / p.g
	t.ID, t.Brewer, t.Choice, t.LookAt, t.LevelPct, t.Serves = b.ID, b.Brewer, b.Choice, b.LookAt, b.LevelPct, b.Serves
	t.Probes = dr.probes(rc, &t, brewer.BusyMin)
	t.BathIceG, t.BathFromDrinksG, t.BathWaterL = b.BathIceG*share, b.BathFromDrinksG*share, b.BathWaterL
	for _, l := range b.Lots {
		t.Lots = append(t.Lots, models.LotUse{Lot: l.Lot, G: l.G * share})
	}
	t.CoffeeLot = b.CoffeeLot
	return t
}
