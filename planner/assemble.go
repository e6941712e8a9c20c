package planner

import (
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// assemble writes the plan out of the stages.
func (j *job) assemble() {
	r := j.req
	digest, _ := Digest(*r)
	j.out = models.Plan{Digest: digest, ComputedAt: r.Now, From: r.From, Days: r.Days, Warnings: []models.Warning{}}
	j.out.Batches = j.batchTasks()
	j.setLots(j.out.Batches)
	j.out.Demand = j.demandRanges()
	j.out.Ice = j.icePlan()
	j.out.Water = j.water.draws
	j.out.Pulls = j.pulls()
	j.out.Stock = j.stockCurves()
	j.out.Cost = j.cost()
	for i := range r.UnderWay {
		u := &r.UnderWay[i]
		j.out.Made = append(j.out.Made, models.UnderWayMade{Task: u.Task, Kind: u.Kind, State: u.State})
	}
	j.warnings()
	j.out.Cautions = j.cautions()
	j.out.Summary = j.summary()
	if j.out.Batches == nil {
		j.out.Batches = []models.BatchTask{}
	}
	if j.out.Water == nil {
		j.out.Water = []models.WaterDraw{}
	}
}

// demandRanges are the rows still to come, with what the plan makes for each: the drink's share, by the mean, of what is
// served of its beverages in the part.
func (j *job) demandRanges() []models.DemandRange {
	n := j.needs
	out := make([]models.DemandRange, 0, len(n.rows))
	factor := j.servedFactors()
	for i := range n.rows {
		row := &n.rows[i]
		win := &j.h.windows[row.window]
		d := models.DemandRange{Date: win.date, DayPart: win.part.Code, Drink: j.req.Drinks[row.drink].Code, Mean: row.rng.Mean(),
			P10: row.rng.P10(), P50: row.rng.P50(), P90: row.rng.P90(), Basis: row.basis}
		d.Prepare = j.prepare(row, factor[row.window])
		out = append(out, d)
	}
	return out
}

// servedFactors are, by window and item, what is served at the prepared level over the mean. Parts that meet within a slot
// share it by their means.
func (j *job) servedFactors() [][]float64 {
	n := j.needs
	items := len(n.levels)
	mean := make([][]float64, len(j.h.windows)) // g by item, over the whole window
	first := make([]*need, len(j.h.windows))
	for i := range n.rows {
		w := n.rows[i].window
		if mean[w] == nil {
			mean[w], first[w] = make([]float64, items), &n.rows[i]
		}
		for item, g := range n.paths[i].G {
			mean[w][item] += n.rows[i].rng.Mean() * g
		}
	}
	out := make([][]float64, len(j.h.windows))
	for w := range out {
		out[w] = make([]float64, items)
		if first[w] == nil {
			continue
		}
		for item := range items {
			var made, asked float64
			for k, share := range first[w].share { // the same for all rows of a window
				t := first[w].slot + k
				part := share * mean[w][item]
				if part <= 0 {
					continue
				}
				asked += part
				made += j.servedAt(item, t) * part / n.meanG[item][t]
			}
			if asked > 0 {
				out[w][item] = made / asked
			}
		}
	}
	return out
}

// servedAt is the path of an item less what is short of it.
func (j *job) servedAt(item, t int) float64 {
	g := j.needs.path[item][t]
	switch nb := len(j.req.Beverages); {
	case item < nb:
		g -= j.result.Short[item][t]
	case item == nb:
		g -= j.drink.run.short[t]
	}
	return max(0, g)
}

// prepare is in servings: the least that any of the drink's beverages allows; for a drink without, its ice or doses.
func (j *job) prepare(row *need, factor []float64) float64 {
	x := &j.req.Drinks[row.drink]
	mean := row.rng.Mean()
	if mean <= 0 {
		return 0
	}
	least := math.Inf(1)
	for _, u := range x.Uses {
		least = min(least, factor[j.bevIndex[u.Beverage]])
	}
	if math.IsInf(least, 1) && x.ServingIceG > 0 {
		least = factor[len(j.req.Beverages)]
	}
	if math.IsInf(least, 1) {
		return row.rng.Quantile(j.needs.levels[len(j.needs.levels)-1])
	}
	return mean * least
}

func (j *job) icePlan() models.IcePlan {
	p := models.IcePlan{Quotas: []models.IceQuota{}, Levels: []models.IceLevel{}}
	p.Quotas = append(append(p.Quotas, j.quotas(j.drink)...), j.quotas(j.plain)...)
	j.drink.iceSums(&p)
	p.BathG = models.Sum(j.plain.stir)
	p.Levels = append(p.Levels, models.IceLevel{At: j.h.at(0), G: j.drink.opening, P10G: j.drink.opening, P90G: j.drink.opening})
	for t, g := range j.drink.run.level {
		l := models.IceLevel{At: j.h.at(t + 1), G: g, P10G: g, P90G: g}
		if flowIce < len(j.outlook.Levels) && t < len(j.outlook.Levels[flowIce]) {
			b := j.outlook.Levels[flowIce][t]
			l.P10G, l.P90G = b.P10, b.P90
		}
		p.Levels = append(p.Levels, l)
	}
	return p
}

// stockCurves are the cold stock of each beverage, a point wherever it changes.
func (j *job) stockCurves() []models.StockPoint {
	out := []models.StockPoint{}
	for i := range j.req.Beverages {
		level := make([]float64, j.h.n)
		start := 0.0
		for k := range j.result.Lots {
			l := &j.result.Lots[k]
			if l.Beverage != i {
				continue
			}
			if l.ReadySlot == 0 {
				start += l.G
			}
			left := l.G
			for t := range j.h.n {
				left -= l.ServedG[t]
				if t >= l.ReadySlot && t < l.ExpiresSlot {
					level[t] += max(0, left)
				}
			}
		}
		code := j.req.Beverages[i].Code
		out = append(out, models.StockPoint{At: j.h.at(0), Beverage: code, G: start})
		last := start
		for t, g := range level {
			if math.Abs(g-last) > 1e-6 || t == j.h.n-1 {
				out = append(out, models.StockPoint{At: j.h.at(t + 1), Beverage: code, G: g})
				last = g
			}
		}
	}
	return out
}

// cost is that of the path of demand that the plan serves, with the proof of how far from the least it can be.
func (j *job) cost() models.Cost {
	c := j.result.Cost
	out := models.Cost{Brewing: c.Batches + c.Making, Waste: c.Waste, Aging: c.Aging, ShortExpected: c.Short + c.IceShort}
	out.Total = out.Brewing + out.Waste + out.Aging + out.ShortExpected - c.Carry
	out.LowerBound = min(j.bound, out.Total)
	if gap := out.Total - out.LowerBound; gap > 0 {
		out.GapPct = 100 * gap / max(1, math.Abs(out.Total))
	}
	out.LivedTotal = out.Brewing + out.Aging + j.outlook.WasteCost + j.outlook.ShortCost
	return out
}

func (j *job) summary() models.Summary {
	s := models.Summary{SlotMin: int(j.h.slot.Minutes())}
	p := &j.out
	for i := range p.Batches {
		if b := &p.Batches[i]; b.State == models.Due {
			s.Batches++
			s.BeverageG += b.BeverageG
			s.DoseG += b.DoseG
		}
	}
	s.DrinkIceG = p.Ice.StirredInG + p.Ice.ServedG
	for _, d := range p.Water {
		s.TreatedWaterL += d.DrawL
	}
	s.DrainL = drained(s.TreatedWaterL, j.req.Water.RecoveryPct)
	for _, d := range p.Demand {
		s.Servings += d.Mean
	}
	if j.h.n > 0 {
		s.WarmestC = j.hottest()
	}
	s.Text = j.summaryText(&s)
	return s
}

// worthAWord is the chance, %, from which running short on a later day stands in the summary.
const worthAWord = 25

var shortKinds = []string{models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort}

func (j *job) summaryText(s *models.Summary) string {
	var b strings.Builder
	write := func(key string, args ...any) { b.WriteString(j.q.Say(key, args...)) }
	days := j.q.DayName(j.h.days[0])
	if n := len(j.h.days); n > 1 {
		days = j.q.Say("plan.days", "first", days, "last", j.q.DayName(j.h.days[n-1]))
	}
	write("plan.expected", "days", days, "temp", j.q.Degrees(s.WarmestC, 0), "servings", say.Digits(s.Servings, 0))
	if s.Batches == 0 {
		write("plan.no_batch")
	} else {
		write("plan.batches", "n", s.Batches, "mass", j.q.About(s.BeverageG), "dose", j.q.About(s.DoseG))
	}
	switch {
	case s.DrinkIceG > 0 && j.out.Ice.BathG > 0:
		write("plan.both_ices", "drink", j.q.About(s.DrinkIceG), "bath", j.q.About(j.out.Ice.BathG))
	case s.DrinkIceG > 0:
		write("plan.drink_ice", "drink", j.q.About(s.DrinkIceG))
	}
	if s.TreatedWaterL > 0 {
		write("plan.treated", "volume", j.q.Volume(s.TreatedWaterL, 0))
	}
	b.WriteString(j.dayBefore())
	act, likely := 0, -1
	for i, w := range j.out.Warnings {
		if w.Grade != models.GradeNote {
			act++
		}
		if w.ChancePct >= worthAWord && slices.Contains(shortKinds, w.Kind) && (likely < 0 || w.ChancePct > j.out.Warnings[likely].ChancePct) {
			likely = i
		}
	}
	if act == 0 && likely >= 0 {
		write("plan.in_view", "warning", j.out.Warnings[likely].Cause)
	} else if act == 0 {
		write("plan.nothing")
	} else {
		write("plan.first", "warning", j.out.Warnings[0].Cause)
		if act > 1 {
			write("plan.more", "n", act-1)
		}
	}
	return b.String()
}

// dayBefore says which open days lie between now and the plan: what they sell of stock and ice is not in it.
func (j *job) dayBefore() string {
	first := j.h.days[0]
	var days []string
	for d := j.req.Site.ServiceDayOf(j.h.start); d < first; d = d.AddDays(1) {
		for _, o := range j.req.Site.OpenSpans(d) {
			if o.To.After(j.h.start) {
				days = append(days, j.q.DayName(d))
				break
			}
		}
	}
	switch len(days) {
	case 0:
		return ""
	case 1:
		return j.q.Say("plan.day_before", "day", days[0])
	}
	return j.q.Say("plan.days_before", "first", days[0], "last", days[len(days)-1])
}
