package planner

import (
	"fmt"

	"hotday/models"
	"hotday/planner/water"
)

func drained(l, recoveryPct float64) float64 { return water.Drained(l, recoveryPct) }

// batchCautions are said where the batch is made.
func (j *job) batchCautions(rc *recipe, b *models.BatchTask) []string {
	out := []string{}
	if rc.bev.Method != models.Steeped {
		out = append(out, careScald)
		if b.IceG > 0 {
			out = append(out, careGlass)
		}
		out = append(out, careCooling)
	} else {
		out = append(out, careSteeping)
	}
	if b.IceG > 0 {
		out = append(out, careIceFood)
	}
	if b.BathIceG > 0 {
		out = append(out, careBathIce)
	}
	return append(out, careHolding)
}

// caffeinePerG is an estimate of caffeine in the cup, mg per g of coffee dosed: about 1.2 % in arabica, most of it dissolved
// (common practice, no source).
const caffeinePerG = 10.0

// muchCaffeine is a serving worth a word, mg.
const muchCaffeine = 200.0

// cautions are said once for the whole plan.
func (j *job) cautions() []string {
	out := []string{}
	hot, steeped := false, false
	for i := range j.out.Batches {
		m := j.recipes[j.bevIndex[j.out.Batches[i].Beverage]].bev.Method
		hot = hot || m != models.Steeped
		steeped = steeped || m == models.Steeped
	}
	if hot {
		out = append(out, careScald, careGlass, careCooling)
	}
	if steeped {
		out = append(out, careSteeping)
	}
	if j.out.Ice.ServedG+j.out.Ice.StirredInG > 0 {
		out = append(out, careIceFood)
	}
	if j.out.Ice.BathG > 0 {
		out = append(out, careBathIce)
	}
	out = append(out, careHolding)
	for _, d := range j.out.Water {
		if len(d.Dose) > 0 {
			out = append(out, careMinerals)
			break
		}
	}
	strongest, mg := -1, 0.0
	for d := range j.req.Drinks {
		g := 0.0
		for _, u := range j.req.Drinks[d].Uses {
			g += j.recipes[j.bevIndex[u.Beverage]].doseFor(u.G)
		}
		for _, s := range j.req.Drinks[d].Doses {
			g += s.DoseG
		}
		if x := g * caffeinePerG; x > mg {
			strongest, mg = d, x
		}
	}
	if strongest >= 0 && mg >= muchCaffeine {
		x := &j.req.Drinks[strongest]
		name := x.Name
		if name == "" {
			name = x.Code
		}
		out = append(out, fmt.Sprintf("One serving of %s carries about %.0f mg of caffeine (estimate: %.0f mg per g of coffee dosed). %s", name, mg, caffeinePerG, careCaffeine))
	}
	return out
}
