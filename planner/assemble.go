package planner

import (
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/risk"
	"hotday/planner/water"
)

// plan writes out everything but the warnings and the summary, which needs them.
func (dr *draft) plan() models.Plan {
	r := dr.req
	digest, _ := Digest(*r)
	p := models.Plan{Digest: digest, ComputedAt: r.Now, From: r.From, Days: r.Days, Warnings: []models.Warning{}}
	if age, ok := dr.forecastAge(); ok {
		p.WeatherIssuedAt, p.WeatherAgeH = r.WeatherIssuedAt, new(age.Hours())
	}
	p.Batches = dr.batchTasks()
	p.ColdLimitC = dr.coldLimit()
	dr.setLots(p.Batches)
	p.Choices = dr.choiceList(p.Batches)
	p.Demand = dr.demandRanges()
	p.Ice = dr.icePlan()
	p.Water, p.Mixes, p.Tank = dr.water.draws, dr.water.mixes, dr.tankPlan(dr.water)
	p.Pulls = dr.pulls()
	p.Supplies = dr.planSupplies(p.Demand)
	p.Stock = dr.stockCurves()
	p.Expected, p.Left = dr.expected(), dr.leftovers(p.Batches)
	p.Cost = dr.cost()
	p.Hands = dr.halfHours()
	for i := range r.UnderWay {
		u := &r.UnderWay[i]
		p.Made = append(p.Made, models.UnderWayMade{Task: u.Task, Kind: u.Kind, State: u.State})
	}
	p.CautionCodes, p.Cautions = dr.cautions(&p)
	if p.Batches == nil {
		p.Batches = []models.BatchTask{}
	}
	if p.Water == nil {
		p.Water = []models.WaterDraw{}
	}
	return p
}

// finish is the plan with its warnings and summary.
func (res *result) finish() models.Plan {
	p := res.plan
	for i := range res.warnings {
		p.Warnings = append(p.Warnings, res.warnings[i].Warning)
	}
	p.OffSale = stopSelling(res.req, &p, res.q)
	p.Summary = res.summary(&p)
	return p
}

// demandRanges lists the demand still to come and the drinks the plan prepares for each row: the row's share, by its mean, of the
// beverage served in that part of the day.
func (bp *brewPlan) demandRanges() []models.DemandRange {
	n := bp.needs
	out := make([]models.DemandRange, 0, len(n.rows))
	factor := bp.servedFactors()
	for i := range n.rows {
		row := &n.rows[i]
		win := &bp.h.windows[row.window]
		if win.date < bp.req.From {
			continue
		}
		d := models.DemandRange{Date: win.date, DayPart: win.part.Code, Drink: bp.req.Drinks[row.drink].Code, Mean: row.rng.Mean(),
			P10: row.rng.P10(), P50: row.rng.P50(), P90: row.rng.P90(), Basis: row.basis}
		d.Prepare = bp.prepare(row, factor[row.window])
		out = append(out, d)
	}
	return out
}

// servedFactors returns, by window and item, the amount served at the planned level divided by the mean. Parts that share a slot
// split it by their means.
func (bp *brewPlan) servedFactors() [][]float64 {
	n := bp.needs
	items := len(n.levels)
	mean := make([][]float64, len(bp.h.windows)) // g by item, over the whole window
	first := make([]*need, len(bp.h.windows))
	for i := range n.rows {
		w := n.rows[i].window
		if mean[w] == nil {
			mean[w], first[w] = make([]float64, items), &n.rows[i]
		}
		for item, g := range n.paths[i].G {
			mean[w][item] += n.rows[i].rng.Mean() * g
		}
	}
	out := make([][]float64, len(bp.h.windows))
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
				made += bp.servedAt(item, t) * part / n.meanG[item][t]
			}
			if asked > 0 {
				out[w][item] = made / asked
			}
		}
	}
	return out
}

// servedAt is the demand path of an item minus its shortage, g.
func (bp *brewPlan) servedAt(item, t int) float64 {
	g := bp.needs.path[item][t]
	switch nb := len(bp.req.Beverages); {
	case item < nb:
		g -= bp.result.Short[item][t]
	case item == nb:
		g -= bp.drink.run.short[t]
	}
	return max(0, g)
}

// prepare returns the number of drinks covered: the fewest that any of the drink's beverages allows, or for a drink without a
// beverage, its ice or doses.
func (bp *brewPlan) prepare(row *need, factor []float64) float64 {
	x := &bp.req.Drinks[row.drink]
	mean := row.rng.Mean()
	if mean <= 0 {
		return 0
	}
	least := math.Inf(1)
	for _, u := range x.Uses {
		least = min(least, factor[bp.bevIndex[u.Beverage]])
	}
	if math.IsInf(least, 1) && x.ServingIceG > 0 {
		least = factor[len(bp.req.Beverages)]
	}
	if math.IsInf(least, 1) {
		return row.rng.Quantile(bp.needs.levels[len(bp.needs.levels)-1])
	}
	return mean * least
}

func (dr *draft) icePlan() models.IcePlan {
	p := models.IcePlan{Quotas: []models.IceQuota{}, Levels: []models.IceLevel{}}
	p.Quotas = append(append(p.Quotas, dr.quotas(dr.drink, false)...), dr.quotas(dr.plain, true)...)
	p.Checks = append(dr.binChecks(dr.drink, false), dr.binChecks(dr.plain, true)...)
	p.WellFills = dr.wellFills(p.Checks)
	dr.drink.iceSums(&p)
	p.BathG = models.Sum(dr.plain.stir)
	p.Levels = append(p.Levels, models.IceLevel{At: dr.h.at(0), G: dr.drink.opening, P10G: dr.drink.opening, P90G: dr.drink.opening})
	for t := range dr.drink.run.level {
		b := dr.iceAfter(t)
		p.Levels = append(p.Levels, models.IceLevel{At: dr.h.at(t + 1), G: b.P50, P10G: b.P10, P90G: b.P90})
	}
	return p
}

// iceAfter is the ice for drinks in the bin at the end of a slot on the simulated days.
func (dr *draft) iceAfter(t int) risk.Band {
	if flowIce < len(dr.outlook.Levels) && t < len(dr.outlook.Levels[flowIce]) {
		return dr.outlook.Levels[flowIce][t]
	}
	g := dr.drink.run.level[t]
	return risk.Band{P10: g, P50: g, P90: g}
}

// stockCurves returns the cold stock of each beverage, one point per change.
func (bp *brewPlan) stockCurves() []models.StockPoint {
	out := []models.StockPoint{}
	ready := map[int]int{} // by lot: the first slot after its batch is ready; the search counts the longest time of any size
	for i := range bp.batches {
		p := &bp.batches[i]
		ready[p.lot] = bp.h.slotFrom(bp.h.at(p.slot).Add(models.Minutes(p.t.ready)))
	}
	for i := range bp.req.Beverages {
		level := make([]float64, bp.h.n)
		start := 0.0
		for k := range bp.result.Lots {
			l := &bp.result.Lots[k]
			if l.Beverage != i {
				continue
			}
			if l.ReadySlot == 0 {
				start += l.G
			}
			left, from := l.G, l.ReadySlot
			if at, planned := ready[k]; planned {
				from = min(from, at)
			}
			for t := range bp.h.n {
				left -= l.ServedG[t]
				if t >= from && t < l.ExpiresSlot {
					level[t] += max(0, left)
				}
			}
		}
		code := bp.req.Beverages[i].Code
		out = append(out, models.StockPoint{At: bp.h.at(0), Beverage: code, G: start})
		last := start
		for t, g := range level {
			if math.Abs(g-last) > 1e-6 || t == bp.h.n-1 {
				out = append(out, models.StockPoint{At: bp.h.at(t + 1), Beverage: code, G: g})
				last = g
			}
		}
	}
	return out
}

// cost returns the schedule's own cost on the demand path it serves, with the dual bound and gap.
func (dr *draft) cost() models.Cost {
	c := dr.result.Cost
	out := models.Cost{Brewing: c.Batches + c.Making, Waste: c.Waste, Aging: c.Aging, ShortExpected: c.Short + c.IceShort}
	out.Total = out.Brewing + out.Waste + out.Aging + out.ShortExpected - c.Carry
	out.LowerBound = min(dr.bound, out.Total)
	if gap := out.Total - out.LowerBound; gap > 0 {
		out.GapPct = 100 * gap / max(1, math.Abs(out.Total))
	}
	return out
}

func (dr *draft) summary(p *models.Plan) models.Summary {
	s := models.Summary{SlotMin: int(dr.h.slot.Minutes())}
	for i := range p.Batches {
		if b := &p.Batches[i]; b.State == models.Due {
			s.Batches++
			s.BeverageG += b.BeverageG
			s.DoseG += b.DoseG
		}
	}
	s.DrinkIceG = p.Ice.StirredInG + p.Ice.ServedG
	s.TreatedWaterL = dr.water.total()
	s.DrainL = water.Drained(s.TreatedWaterL, dr.req.Water.RecoveryPct)
	for _, d := range p.Demand {
		s.Servings += d.Mean
	}
	s.WarmestC = dr.warmestForecast()
	s.Text = dr.summaryText(&s, p)
	return s
}

// summaryChancePct is the chance, %, from which a likely shortage on a later day is mentioned in the summary.
const summaryChancePct = 25

var shortKinds = []string{models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort}

func (st *setting) summaryText(s *models.Summary, p *models.Plan) string {
	var b strings.Builder
	write := func(key string, args ...any) { b.WriteString(st.q.Say(key, args...)) }
	days := st.q.DayName(st.req.From)
	if n := st.req.Days; n > 1 {
		days = st.q.Say("plan.days", "first", days, "last", st.q.DayName(st.req.From.AddDays(n-1)))
	}
	if s.WarmestC == nil {
		write("plan.weather_unknown", "days", days)
	} else {
		write("plan.expected", "days", days, "temp", st.q.WholeTemp(*s.WarmestC))
	}
	if age, ok := st.forecastAge(); ok && s.WarmestC != nil {
		write("plan.forecast_age", "age", st.q.Age(age))
	}
	if money := st.q.Expected(&p.Expected, st.req.Site.Currency); money != "" {
		write("plan.money", "expected", money)
	}
	if s.Batches == 0 {
		write("plan.no_batch")
	} else {
		write("plan.batches", "n", s.Batches, "mass", st.q.GlanceMass(s.BeverageG), "dose", st.q.GlanceMass(s.DoseG))
	}
	switch {
	case s.DrinkIceG > 0 && p.Ice.BathG > 0:
		write("plan.both_ices", "drink", st.q.GlanceMass(s.DrinkIceG), "bath", st.q.GlanceMass(p.Ice.BathG))
	case s.DrinkIceG > 0:
		write("plan.drink_ice", "drink", st.q.GlanceMass(s.DrinkIceG))
	}
	if s.TreatedWaterL > 0 {
		write("plan.treated", "volume", st.q.Volume(s.TreatedWaterL))
	}
	b.WriteString(st.dayBefore())
	act, likely := 0, -1
	for i, w := range p.Warnings {
		if w.Grade != models.GradeNote {
			act++
		}
		if w.ChancePct >= summaryChancePct && slices.Contains(shortKinds, w.Kind) && (likely < 0 || w.ChancePct > p.Warnings[likely].ChancePct) {
			likely = i
		}
	}
	if act == 0 && likely >= 0 {
		write("plan.in_view", "warning", p.Warnings[likely].Cause)
	} else if act == 0 {
		write("plan.nothing")
	} else {
		write("plan.first", "warning", p.Warnings[0].Cause)
		if act > 1 {
			write("plan.more", "n", act-1)
		}
	}
	return b.String()
}

// dayBefore names the open days between now and the plan whose sales the plan does not include, as the request states no demand for them.
func (st *setting) dayBefore() string {
	first := st.h.days[0]
	var days []string
	for d := st.req.Site.ServiceDayOf(st.h.start); d < first; d = d.AddDays(1) {
		for _, o := range st.req.Site.OpenSpans(d) {
			if o.To.After(st.h.start) {
				days = append(days, st.q.DayName(d))
				break
			}
		}
	}
	switch len(days) {
	case 0:
		return ""
	case 1:
		return st.q.Say("plan.day_before", "day", days[0])
	}
	return st.q.Say("plan.days_before", "first", days[0], "last", days[len(days)-1])
}
