package planner

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hotday/models"
)

// task writes a batch out. Each number follows from the dose by the functions behind `calc`.
func (j *job) task(rc *recipe, doseG float64, start time.Time, t times) models.BatchTask {
	a := rc.brew.ForDose(doseG)
	ext, _ := rc.brew.Extract(doseG)
	b := models.BatchTask{
		Date: j.req.Site.ServiceDayOf(start), Beverage: rc.bev.Code, Start: start.In(j.loc),
		IceAt: start.Add(models.Minutes(t.ice)).In(j.loc), Ready: start.Add(models.Minutes(t.ready)).In(j.loc),
		DoseG: a.DoseG, BrewWaterG: a.BrewWaterG, IceG: a.IceG, BeverageG: a.BeverageG,
		BrewerOutTempC: rc.outC, CoolToBeforeIceC: rc.coolToC, IceTempC: rc.iceC, IceWetShare: rc.wetShare, FinalTempC: rc.after.FinalC,
		ExpectedTDSPct: rc.after.FinalTDSPct, ExpectedYieldPct: ext.YieldPct,
		RetainedG: ext.RetainedG, DissolvedG: ext.DissolvedG, State: models.Due,
		BathIceG: rc.bathIceG(doseG, &j.req.Ice, j.plain.wetShare(j.req)),
	}
	if a.IceG <= 0 {
		b.IceAt = time.Time{}
	}
	if rc.bev.Method == models.Steeped {
		b.StrainAt = start.Add(models.Minutes(t.strain)).In(j.loc)
	}
	b.UseBy = b.Ready.Add(models.Hours(j.req.Site.HoldH(rc.bev)))
	if m, ok := rc.coolingMin(doseG); ok && rc.coolToC != nil && !math.IsInf(m, 0) {
		b.CoolingMin = &m
	}
	b.Cautions = j.batchCautions(rc, &b)
	return b
}

// tds is the strength of the finished beverage, %: all of its ice melted, as it is by the time it is drunk.
func (r *recipe) tds() float64 { return r.brew.FinalTDSPct() }

// batchTasks lists the batches under way and the planned ones in order of time.
func (j *job) batchTasks() []models.BatchTask {
	var out []models.BatchTask
	for k := range j.kept {
		b := &j.kept[k]
		if b.g <= 0 || b.stocked {
			continue
		}
		t := j.task(j.recipes[b.bev], b.doseG, b.task.Start, b.t)
		t.ID, t.State = b.task.Task, b.task.State
		if b.brewer >= 0 {
			t.Brewer = j.req.Brewers[b.brewer].Code
		}
		t.Serves = j.q.Say("plan.under_way")
		out = append(out, t)
	}
	count := map[string]int{}
	for _, t := range out {
		count[string(t.Date)+"|"+t.Brewer+"|"+t.Beverage]++
	}
	otherwise := j.otherwise()
	for i := range j.batches {
		p := &j.batches[i]
		o := &j.options[p.option]
		t := j.task(j.recipes[o.bev], p.doseG, j.h.at(p.slot), p.t)
		t.Brewer = j.req.Brewers[o.brewer].Code
		key := string(t.Date) + "|" + t.Brewer + "|" + t.Beverage
		count[key]++
		t.ID = fmt.Sprintf("%s.%s.%s.%d", t.Date, t.Brewer, t.Beverage, count[key])
		t.Serves, t.Otherwise = j.serves(p), otherwise[i]
		if j.needs.byDay != nil {
			t.LevelPct = 100 * j.needs.level(o.bev, j.h.dayOf(j.result.Lots[p.lot].ReadySlot))
		}
		out = append(out, t)
	}
	return out
}

// serves says what a batch is for: the day parts that drink it, and what is left.
func (j *job) serves(p *planned) string {
	l := &j.result.Lots[p.lot]
	grams := make([]float64, len(j.h.windows))
	for t, g := range l.ServedG {
		if w := j.h.windowAt(t); w >= 0 {
			grams[w] += g
		}
	}
	var parts []string
	for w, g := range grams {
		if g >= 0.5 {
			win := &j.h.windows[w]
			parts = append(parts, j.q.Say("plan.serves", "day", j.q.ShortDay(win.date), "part", win.part.Code, "mass", j.q.About(g)))
		}
	}
	text := strings.Join(parts, j.q.Say("said.comma"))
	if text == "" {
		text = j.q.Say("plan.in_hand")
	}
	if l.LeftG >= 50 {
		if l.Carried {
			text += j.q.Say("plan.still_good", "mass", j.q.About(l.LeftG))
		} else {
			text += j.q.Say("plan.left_over", "mass", j.q.About(l.LeftG))
		}
	}
	return text
}
