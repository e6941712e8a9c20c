package planner

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hotday/models"
)

// task fills in a batch, with its ice bath if it has one.
func (dr *draft) task(rc *recipe, a *amounts, start time.Time, t times, in *bath) models.BatchTask {
	b := models.BatchTask{
		Date: dr.req.Site.ServiceDayOf(start), Beverage: rc.bev.Code, Start: start.In(dr.loc),
		IceAt: start.Add(models.Minutes(t.ice)).In(dr.loc), Ready: start.Add(models.Minutes(t.ready)).In(dr.loc),
		DoseG: a.doseG, BrewWaterG: a.waterG, IceG: a.iceG, BeverageG: a.g,
		BrewerOutTempC: rc.outC, CoolToBeforeIceC: rc.coolToC, IceTempC: rc.iceC, IceWetShare: rc.wetShare, FinalTempC: a.after.FinalC,
		ExpectedTDSPct: a.after.FinalTDSPct, ExpectedYieldPct: a.ext.YieldPct,
		RetainedG: a.ext.RetainedG, DissolvedG: a.ext.DissolvedG, Lots: []models.LotUse{}, State: models.Due,
	}
	if in != nil {
		b.BathIceG, b.BathFromDrinksG, b.BathWaterL = in.iceG, in.fromDrinksG, in.waterL
	}
	if a.iceG <= 0 {
		b.IceAt = time.Time{}
	}
	if rc.bev.Method == models.Steeped {
		b.StrainAt = start.Add(models.Minutes(t.strain)).In(dr.loc)
	}
	b.UseBy = b.Ready.Add(models.Hours(dr.req.Site.HoldH(rc.bev)))
	if m, ok := rc.coolingMin(a.ext.BeverageG); ok && rc.coolToC != nil && !math.IsInf(m, 0) {
		b.CoolingMin = &m
	}
	b.CautionCodes = batchCautions(rc, &b)
	b.Cautions = dr.q.Cautions(b.CautionCodes)
	return b
}

// tds is the strength of the finished beverage, %, with all of its ice melted.
func (r *recipe) tds() float64 { return r.brew.FinalTDSPct() }

// batchTasks lists the batches under way and the planned ones in order of time.
func (dr *draft) batchTasks() []models.BatchTask {
	var out []models.BatchTask
	for k := range dr.kept {
		b := &dr.kept[k]
		if b.g <= 0 || b.stocked {
			continue
		}
		t := dr.task(dr.recipes[b.bev], &b.amounts, b.task.Start, b.t, dr.bathOf(k, -1))
		t.ID, t.State = b.task.Task, b.task.State
		if b.brewer >= 0 {
			t.Brewer = dr.req.Brewers[b.brewer].Code
		}
		t.Serves = dr.q.Say("plan.under_way")
		out = append(out, t)
	}
	count := map[string]int{}
	for _, t := range out {
		count[string(t.Date)+"|"+t.Brewer+"|"+t.Beverage]++
	}
	for i := range dr.batches {
		p := &dr.batches[i]
		o := &dr.options[p.option]
		t := dr.task(dr.recipes[o.bev], &p.amounts, dr.h.at(p.slot), p.t, dr.bathOf(-1, i))
		t.Brewer = dr.req.Brewers[o.brewer].Code
		t.Probes = dr.probes(dr.recipes[o.bev], &t, dr.req.Brewers[o.brewer].BusyMin)
		key := string(t.Date) + "|" + t.Brewer + "|" + t.Beverage
		count[key]++
		t.ID = fmt.Sprintf("%s.%s.%s.%d", t.Date, t.Brewer, t.Beverage, count[key])
		t.Serves = dr.serves(p)
		if dr.needs.byDay != nil {
			t.LevelPct = 100 * dr.needs.level(o.bev, dr.h.dayOf(dr.result.Lots[p.lot].ReadySlot))
		}
		out = append(out, t)
	}
	return out
}

// serves says which parts of the day a batch is for, and how much will be left over.
func (bp *brewPlan) serves(p *planned) string {
	l := &bp.result.Lots[p.lot]
	grams := make([]float64, len(bp.h.windows))
	for t, g := range l.ServedG {
		if w := bp.h.windowAt(t); w >= 0 {
			grams[w] += g
		}
	}
	var parts []string
	for w, g := range grams {
		if g >= 0.5 {
			win := &bp.h.windows[w]
			parts = append(parts, bp.q.Say("plan.serves", "day", bp.q.ShortDay(win.date), "part", win.part.Code, "mass", bp.q.GlanceMass(g)))
		}
	}
	text := strings.Join(parts, bp.q.Say("said.comma"))
	if text == "" {
		text = bp.q.Say("plan.in_hand")
	}
	if l.LeftG >= 50 {
		if l.Carried {
			text += bp.q.Say("plan.still_good", "mass", bp.q.GlanceMass(l.LeftG))
		} else {
			text += bp.q.Say("plan.left_over", "mass", bp.q.GlanceMass(l.LeftG))
		}
	}
	return text
}
