package audit

import (
	"slices"

	"hotday/models"
)

var cautionRules = []Rule{
	{"cautions.kind", "Every task has the cautions of its work, where the work is done.", cautionsOfKinds},
	{"cautions.code", "A caution's code stands beside its text.", cautionCodes},
}

// has reports whether a list of codes has a caution.
func has(codes []string, c models.Caution) bool { return slices.Contains(codes, string(c)) }

func cautionsOfKinds(p *Papers, report report) {
	byBatch := map[string][]string{} // of all steps of a batch
	for _, t := range p.tasks {
		if t.Batch != nil {
			byBatch[t.Batch.ID] = append(byBatch[t.Batch.ID], t.CautionCodes...)
		}
	}
	for _, t := range p.tasks {
		if t.State != models.Due {
			continue
		}
		need := func(c models.Caution, when bool) {
			if when && !has(t.CautionCodes, c) {
				report(t.ID, "%s without the caution %s (has %v)", t.Kind, c, t.CautionCodes)
			}
		}
		plain, makesIce := p.untreated(t.Station)
		switch t.Kind {
		case models.TaskBrew:
			steeped := p.beverage(t.Beverage).Method == models.Steeped
			need(models.CautionScald, !steeped)
			need(models.CautionSteeping, steeped)
		case models.TaskChill:
			if t.Batch != nil {
				hot := p.beverage(t.Beverage).Method != models.Steeped
				need(models.CautionScald, hot)
				need(models.CautionGlass, hot && t.Batch.IceG >= 0.5)
				need(models.CautionBathIce, t.Batch.BathIceG >= 0.5)
				need(models.CautionCooling, hot)
			}
		case models.TaskStore:
			need(models.CautionHolding, true)
		case models.TaskWaterDraw:
			need(models.CautionMinerals, t.Draw != nil && (len(t.Draw.Dose) > 0 || len(t.Draw.Concentrates) > 0))
		case models.TaskMix:
			need(models.CautionMinerals, true)
		case models.TaskIceTake, models.TaskIceRefill, models.TaskIceCheck:
			need(models.CautionIceFood, makesIce && !plain)
		case models.TaskDiscard:
			need(models.CautionHolding, true)
		}
	}
	for i := range p.plan.Batches {
		b := &p.plan.Batches[i]
		hot := p.beverage(b.Beverage).Method != models.Steeped
		for _, x := range []struct {
			c    models.Caution
			when bool
		}{{models.CautionScald, hot}, {models.CautionCooling, hot}, {models.CautionSteeping, !hot}, {models.CautionBathIce, b.BathIceG > 0}, {models.CautionIceFood, b.IceG > 0}, {models.CautionHolding, true}} {
			if x.when && !has(b.CautionCodes, x.c) {
				report(b.ID, "without the caution %s (has %v)", x.c, b.CautionCodes)
			}
		}
	}
}

func cautionCodes(p *Papers, report report) {
	for _, t := range p.tasks {
		switch {
		case (t.Caution == "") != (len(t.CautionCodes) == 0):
			report(t.ID, "text %q, codes %v", t.Caution, t.CautionCodes)
		case len(t.CautionCodes) > 0 && t.CautionCode != t.CautionCodes[0]:
			report(t.ID, "caution_code %q, codes %v", t.CautionCode, t.CautionCodes)
		}
	}
	for i := range p.plan.Batches {
		if b := &p.plan.Batches[i]; len(b.Cautions) != len(b.CautionCodes) {
			report(b.ID, "%d texts, %d codes", len(b.Cautions), len(b.CautionCodes))
		}
	}
	if len(p.plan.Cautions) != len(p.plan.CautionCodes) {
		report("plan", "%d texts, %d codes", len(p.plan.Cautions), len(p.plan.CautionCodes))
	}
}
