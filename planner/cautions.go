package planner

import (
	"slices"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/say"
)

// batchCautions returns the cautions for the place where a batch is made.
func batchCautions(rc *recipe, b *models.BatchTask) []models.Caution {
	out := []models.Caution{}
	if rc.bev.Method != models.Steeped {
		out = append(out, models.CautionScald)
		if b.IceG > 0 {
			out = append(out, models.CautionGlass)
		}
		out = append(out, models.CautionCooling)
	} else {
		out = append(out, models.CautionSteeping)
	}
	if b.IceG > 0 {
		out = append(out, models.CautionIceFood)
	}
	if b.BathIceG > 0 {
		out = append(out, models.CautionBathIce)
	}
	return append(out, models.CautionHolding)
}

// cautions returns the cautions that hold for the whole plan, with their texts.
func (dr *draft) cautions(p *models.Plan) (out []models.Caution, texts []string) {
	out = []models.Caution{}
	hot, steeped := false, false
	for i := range p.Batches {
		m := dr.recipes[dr.bevIndex[p.Batches[i].Beverage]].bev.Method
		hot = hot || m != models.Steeped
		steeped = steeped || m == models.Steeped
	}
	if hot {
		out = append(out, models.CautionScald, models.CautionGlass, models.CautionCooling)
	}
	if steeped {
		out = append(out, models.CautionSteeping)
	}
	if p.Ice.ServedG+p.Ice.StirredInG > 0 {
		out = append(out, models.CautionIceFood)
	}
	if p.Ice.BathG > 0 {
		out = append(out, models.CautionBathIce)
	}
	out = append(out, models.CautionHolding)
	if len(p.Mixes) > 0 || slices.ContainsFunc(p.Water, func(d models.WaterDraw) bool { return len(d.Dose) > 0 }) {
		out = append(out, models.CautionMinerals)
	}
	texts = dr.q.Cautions(out)
	strongest, mg := -1, 0.0
	for d := range dr.req.Drinks {
		if x := dr.caffeineMg(&dr.req.Drinks[d]); x > mg {
			strongest, mg = d, x
		}
	}
	if strongest >= 0 && mg > brew.CaffeineServingMg {
		x := &dr.req.Drinks[strongest]
		name := x.Name
		if name == "" {
			name = x.Code
		}
		out = append(out, models.CautionCaffeine)
		texts = append(texts, dr.q.Say("care.serving", "drink", name, "mg", say.Number(mg, 0), "care", dr.q.Caution(models.CautionCaffeine)))
	}
	return out, texts
}

// caffeineMg estimates the caffeine of a serving, mg: from the extraction of its beverages, and all of the caffeine of doses made to
// order.
func (kt *kitchen) caffeineMg(d *models.Drink) float64 {
	mg := 0.0
	for _, u := range d.Uses {
		r := kt.recipes[kt.bevIndex[u.Beverage]]
		if x, err := r.brew.Extract(r.doseFor(u.G)); err == nil {
			mg += x.CaffeineMg(u.G, u.G)
		}
	}
	for _, s := range d.Doses {
		mg += s.DoseG * 1000 * brew.CaffeineOfDosePct / 100
	}
	return mg
}
