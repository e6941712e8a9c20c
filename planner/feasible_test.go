package planner

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/ice"
)

// broken lists what a plan does that its request does not allow. It reads request and plan alone and shares no code with the
// planner but the calendar and the physics.
func broken(r *models.PlanRequest, p *models.Plan) []string {
	c := &feasibility{r: r, p: p, loc: r.Site.Location()}
	c.batches()
	c.shares()
	c.store()
	c.iceBalance()
	c.moulds()
	c.waterBalance()
	c.beans()
	c.demandRows()
	c.costs()
	c.warnings()
	return c.found
}

type feasibility struct {
	r     *models.PlanRequest
	p     *models.Plan
	loc   *time.Location
	found []string
}

func (c *feasibility) say(format string, args ...any) {
	c.found = append(c.found, fmt.Sprintf(format, args...))
}

func (c *feasibility) need(ok bool, format string, args ...any) {
	if !ok {
		c.say(format, args...)
	}
}

func close6(a, b float64) bool { return math.Abs(a-b) <= 1e-6*(1+math.Abs(a)+math.Abs(b)) }

// mayAct reports whether somebody may act: opening hours of the day or the day before, set-up either side.
func (c *feasibility) mayAct(t time.Time) bool {
	pad := time.Duration(c.r.Site.SetupMin * float64(time.Minute))
	d := models.DateOf(t, c.loc)
	for _, date := range []models.Date{d.AddDays(-1), d, d.AddDays(1)} {
		for _, s := range c.r.Site.OpenSpans(date) {
			if !t.Before(s.From.Add(-pad)) && !t.After(s.To.Add(pad)) {
				return true
			}
		}
	}
	return false
}

func (c *feasibility) beverage(code string) *models.Beverage {
	i := slices.IndexFunc(c.r.Beverages, func(b models.Beverage) bool { return b.Code == code })
	return &c.r.Beverages[i]
}

func (c *feasibility) brewer(code string) *models.Brewer {
	i := slices.IndexFunc(c.r.Brewers, func(b models.Brewer) bool { return b.Code == code })
	if i < 0 {
		return nil
	}
	return &c.r.Brewers[i]
}

func minute(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func (c *feasibility) batches() {
	type taken struct {
		brewer   string
		from, to time.Time
		id       string
	}
	var busy []taken
	ids := map[string]bool{}
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		bev, w := c.beverage(b.Beverage), c.brewer(b.Brewer)
		c.need(!ids[b.ID], "batch id %s twice", b.ID)
		ids[b.ID] = true
		if b.State != models.Due {
			if w != nil && b.State == models.Started {
				busy = append(busy, taken{b.Brewer, b.Start, b.Start.Add(minute(w.BusyMin)), b.ID})
			}
			continue
		}
		if w == nil {
			c.say("%s: no brewer %q", b.ID, b.Brewer)
			continue
		}
		c.need(!b.Start.Before(c.r.Now), "%s starts before now", b.ID)
		c.need(slices.Contains(w.Beverages, b.Beverage), "%s: %s does not make it", b.ID, b.Brewer)
		c.need(b.BeverageG >= w.MinBeverageG-1e-6 && b.BeverageG <= w.MaxBeverageG+1e-6, "%s: %g g outside %g–%g", b.ID, b.BeverageG, w.MinBeverageG, w.MaxBeverageG)
		c.need(b.BeverageG > 0, "%s: a batch of nothing", b.ID)
		c.need(w.MaxDoseG == nil || b.DoseG <= *w.MaxDoseG+1e-6, "%s: dose %g above the basket", b.ID, b.DoseG)
		c.need(w.MaxWaterG == nil || b.BrewWaterG <= *w.MaxWaterG+1e-6, "%s: water %g above the vessel", b.ID, b.BrewWaterG)
		c.need(c.mayAct(b.Start), "%s starts at %s when nobody is there", b.ID, b.Start)
		end := b.Start.Add(minute(w.BusyMin))
		c.need(c.available(w, b.Start, end), "%s: %s–%s lies outside the brewer's spans", b.ID, b.Start, end)
		for _, o := range c.r.Outages {
			if o.Kind == "brewer" && o.Code == w.Code {
				c.need(!b.Start.Before(o.To) || !o.From.Before(end), "%s: the brewer is out", b.ID)
			}
		}
		busy = append(busy, taken{b.Brewer, b.Start, end, b.ID})
		c.times(b, bev, w)
	}
	for i := range busy {
		for k := range i {
			x, y := busy[i], busy[k]
			c.need(x.brewer != y.brewer || !x.from.Before(y.to) || !y.from.Before(x.to), "%s and %s overlap on %s", x.id, y.id, x.brewer)
		}
	}
	c.hands()
}

func (c *feasibility) times(b *models.BatchTask, bev *models.Beverage, w *models.Brewer) {
	hold := minute(min(bev.HoldH, c.r.Site.MaxHoldH) * 60)
	c.need(b.UseBy.Equal(b.Ready.Add(hold)), "%s: use by %s is not %s after ready", b.ID, b.UseBy, hold)
	if bev.Method == models.Steeped {
		strain := b.Start.Add(minute(*bev.SteepH * 60))
		c.need(b.StrainAt.Equal(strain), "%s strained at %s, want %s", b.ID, b.StrainAt, strain)
		c.need(c.mayAct(b.StrainAt), "%s is strained at %s when nobody is there", b.ID, b.StrainAt)
		c.need(b.Ready.Equal(strain.Add(minute(bev.ReadyMin))), "%s ready %s", b.ID, b.Ready)
		return
	}
	cooling := 0.0
	if b.CoolingMin != nil {
		cooling = *b.CoolingMin
	}
	want := b.Start.Add(minute(max(bev.ReadyMin, w.BusyMin+cooling)))
	c.need(b.Ready.Sub(want).Abs() < time.Second, "%s ready %s, want %s", b.ID, b.Ready, want)
}

func (c *feasibility) available(w *models.Brewer, from, to time.Time) bool {
	if len(w.Available) == 0 {
		return true
	}
	// Minute by minute: every minute of the busy span lies in some span.
	for t := from; t.Before(to); t = t.Add(time.Minute) {
		in := false
		d := models.DateOf(t, c.loc)
		for _, a := range w.Available {
			for _, date := range []models.Date{d.AddDays(-1), d} {
				in = in || a.On(date, c.loc).Contains(t)
			}
		}
		if !in {
			return false
		}
	}
	return true
}

func (c *feasibility) hands() {
	at := map[int64]int{}
	for _, b := range c.p.Batches {
		if b.State == models.Due {
			at[b.Start.Unix()]++
		}
	}
	for unix, n := range at {
		t := time.Unix(unix, 0)
		most := c.r.Site.StartsPerSlot
		lowest := -1
		for _, a := range c.r.Attention {
			if !t.Before(a.From) && t.Before(a.To) && (lowest < 0 || a.Starts < lowest) {
				lowest = a.Starts
			}
		}
		if lowest >= 0 {
			most = lowest
		}
		c.need(n <= most, "%d batches start at %s, hands for %d", n, t, most)
	}
}

// shares holds each batch to its recipe and its balances.
func (c *feasibility) shares() {
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		bev := c.beverage(b.Beverage)
		water := b.DoseG * bev.Ratio
		c.need(close6(b.IceG, water*bev.IceShare) && close6(b.BrewWaterG+b.IceG, water), "%s: ice %g, water %g of %g", b.ID, b.IceG, b.BrewWaterG, water)
		brewed := b.BeverageG - b.IceG
		c.need(close6(b.BrewWaterG+b.DissolvedG, brewed+b.RetainedG), "%s: liquid does not balance", b.ID)
		c.need(close6(b.DissolvedG, b.DoseG*bev.MaxYieldPct/100), "%s: dissolved %g of %g", b.ID, b.DissolvedG, b.DoseG)
		c.need(b.ExpectedYieldPct >= 0 && b.ExpectedYieldPct <= bev.MaxYieldPct, "%s: yield %g", b.ID, b.ExpectedYieldPct)
		c.need(b.FinalTempC >= 0 && b.FinalTempC <= 100, "%s: ends at %g °C", b.ID, b.FinalTempC)
		c.need(b.BrewerOutTempC <= brew.BoilingPoint(c.r.Site.AltitudeM)+1e-9, "%s: %g °C boils", b.ID, b.BrewerOutTempC)
		c.need(len(b.Cautions) > 0, "%s: no caution", b.ID)
	}
}

// store adds the curves up: the cold store never holds more than it can, but for what was there or under way.
func (c *feasibility) store() {
	limit := c.r.Site.StoreG
	for _, b := range c.p.Batches {
		if b.State != models.Due {
			limit += b.BeverageG
		}
	}
	level, at := map[string]float64{}, map[int64]bool{}
	points := slices.Clone(c.p.Stock)
	slices.SortStableFunc(points, func(a, b models.StockPoint) int { return a.At.Compare(b.At) })
	for i, p := range points {
		c.need(p.G >= -1e-6, "%s: %g g of %s", p.At, p.G, p.Beverage)
		level[p.Beverage] = p.G
		at[p.At.Unix()] = true
		if i+1 < len(points) && points[i+1].At.Equal(p.At) {
			continue
		}
		sum := 0.0
		for _, g := range level {
			sum += g
		}
		c.need(sum <= limit*(1+1e-9)+1, "%s: %g g in a store of %g", p.At, sum, limit)
	}
}

func (c *feasibility) iceBalance() {
	x := &c.p.Ice
	c.need(math.Abs(x.OpeningG+x.MadeG-x.StirredInG-x.ServedG-x.MeltedG-x.LeftG) <= 1e-6*(1+x.OpeningG+x.MadeG), "ice does not balance: %+v",
		[]float64{x.OpeningG, x.MadeG, x.StirredInG, x.ServedG, x.MeltedG, x.LeftG})
	end := c.r.Site.DayEnd(c.r.From.AddDays(c.r.Days - 1))
	stirred := 0.0
	for _, b := range c.p.Batches {
		switch {
		case b.IceG == 0:
		case b.State == models.Due && b.IceAt.Before(end):
			stirred += b.IceG
		case b.State == models.Started && !b.IceAt.Before(c.r.Now) && b.IceAt.Before(end):
			stirred += b.IceG
		}
	}
	// What a batch under way takes may lack or fall between now and the first slot; the planned ones have theirs.
	under := 0.0
	for _, b := range c.p.Batches {
		if b.State == models.Started {
			under += b.IceG
		}
	}
	slack := float64(c.r.Site.SlotMin) * 0
	c.need(x.StirredInG <= stirred+under+1+slack && x.StirredInG >= stirred-under-1, "stirred in %g, batches take %g", x.StirredInG, stirred)
	for _, l := range x.Levels {
		c.need(l.G >= -1e-6 && l.G <= c.r.Ice.BinG+1e-6, "%s: %g g in a bin of %g", l.At, l.G, c.r.Ice.BinG)
		c.need(l.P10G <= l.P90G+1e-6 && l.P10G >= -1e-6, "%s: range %g–%g", l.At, l.P10G, l.P90G)
	}
	c.need(x.OpeningG <= c.r.Ice.BinG && x.OpeningG <= c.r.Ice.OpeningG, "opening %g", x.OpeningG)
	made := 0.0
	for _, q := range x.Quotas {
		if c.treated(q.Maker) {
			made += q.MakeG
		}
		part := partOf(c.r, q.DayPart)
		c.need(!q.Due.After(c.r.Site.DayPartSpan(q.Date, part).To), "quota of %s is due at %s, after its part", q.Maker, q.Due)
		c.need(q.MakeG >= 0, "quota of %g", q.MakeG)
		g := 0.0
		for _, l := range q.Loads {
			g += l.G
		}
		c.need(len(q.Loads) == 0 || close6(g, q.MakeG), "loads of %g for a quota of %g", g, q.MakeG)
	}
	c.need(made <= x.MadeG+1e-3, "quotas ask for %g, machines give %g", made, x.MadeG)
}

func (c *feasibility) treated(code string) bool {
	for _, m := range c.r.Ice.Makers {
		if m.Code == code {
			return m.Treated
		}
	}
	for _, m := range c.r.Ice.Moulds {
		if m.Code == code {
			return m.Treated
		}
	}
	c.say("no maker %q", code)
	return false
}

func (c *feasibility) moulds() {
	for _, m := range c.r.Ice.Moulds {
		f := ice.Mould{ThicknessMM: m.ThicknessMM, Geometry: ice.Geometry(m.Geometry), Sides: m.Sides, WaterC: c.r.Ice.InletWaterC, AirC: m.FreezerAirC,
			HWm2K: m.HWM2K, MassKg: m.LoadG / 1000, FreezerHeatW: m.FreezerHeatW}.Freeze()
		var loads []models.IceLoad
		for _, q := range c.p.Ice.Quotas {
			if q.Maker == m.Code {
				loads = append(loads, q.Loads...)
			}
		}
		for _, l := range loads {
			begun := !l.FillAt.After(c.r.Now)
			c.need(begun || c.mayAct(l.FillAt), "%s filled at %s when nobody is there", m.Code, l.FillAt)
			c.need(c.mayAct(l.TakeAt), "%s taken at %s when nobody is there", m.Code, l.TakeAt)
			c.need(l.TakeAt.Sub(l.FillAt) >= minute(f.Minutes)-time.Second, "%s frozen in %s, takes %.0f min", m.Code, l.TakeAt.Sub(l.FillAt), f.Minutes)
			c.need(begun || close6(l.G, m.LoadG), "%s: a load of %g g", m.Code, l.G)
			n := 0
			for _, o := range loads {
				if !o.FillAt.After(l.FillAt) && l.FillAt.Before(o.TakeAt) {
					n++
				}
			}
			c.need(n <= m.LoadsAtOnce, "%s: %d loads at once", m.Code, n)
		}
	}
}

func (c *feasibility) waterBalance() {
	brewed, rinse, n := 0.0, 0.0, 0.0
	for _, b := range c.p.Batches {
		if b.State == models.Due {
			brewed += b.BrewWaterG / 1000
			n++
		}
	}
	var total models.WaterDraw
	for _, d := range c.p.Water {
		c.need(close6(d.DrawL, d.BrewL+d.IceL+d.RinseL+d.DrinkL), "draw %g of %+v", d.DrawL, d)
		c.need(d.TankAfterL >= -1e-9 && d.TankAfterL <= c.r.Water.TankL+1e-9, "tank holds %g of %g", d.TankAfterL, c.r.Water.TankL)
		total.BrewL += d.BrewL
		total.RinseL += d.RinseL
		total.IceL += d.IceL
		for _, s := range d.Dose {
			c.need(s.G > 0 && close6(s.G, math.Round(s.G*10)/10), "dose of %g g", s.G)
		}
	}
	rinse = n * c.r.Water.RinseLPerBatch
	if len(c.p.Water) > 0 {
		c.need(close6(total.BrewL, brewed), "brew water %g, batches take %g", total.BrewL, brewed)
		c.need(close6(total.RinseL, rinse), "rinse %g, want %g", total.RinseL, rinse)
	}
}

func (c *feasibility) beans() {
	for i := range c.r.Coffees {
		x := &c.r.Coffees[i]
		dose := map[models.Date]float64{}
		for _, b := range c.p.Batches {
			if b.State == models.Due && c.beverage(b.Beverage).Coffee == x.Code {
				dose[b.Date] += b.DoseG / (1 - x.GrinderLossPct/100)
			}
		}
		pulled, have := map[models.Date]float64{}, 0.0
		for _, l := range x.Lots {
			have += l.Grams
		}
		all := 0.0
		for _, p := range c.p.Pulls {
			if p.Coffee == x.Code {
				pulled[p.Date] += p.G
				c.need(!p.PullBy.After(p.UseFrom), "pull of %s after its use", p.Lot)
				c.need(c.mayAct(p.PullBy), "pull of %s at %s when nobody is there", p.Lot, p.PullBy)
				if p.FromPlace == "freezer" {
					c.need(p.UseFrom.Sub(p.PullBy) >= minute(x.ThawH*60), "lot %s thaws %s", p.Lot, p.UseFrom.Sub(p.PullBy))
				}
			}
		}
		for date, g := range dose {
			all += g
			if pulled[date]+1 < g {
				c.need(slices.ContainsFunc(c.p.Warnings, func(w models.Warning) bool { return w.Kind == models.WarnBeansShort }),
					"%s of %s: %g g needed, %g pulled, no warning", x.Code, date, g, pulled[date])
			}
		}
		if all > have+float64(1+c.r.Days) {
			c.need(slices.ContainsFunc(c.p.Warnings, func(w models.Warning) bool { return w.Kind == models.WarnBeansShort }), "%s: more used than there is, no warning", x.Code)
		}
	}
}

func (c *feasibility) demandRows() {
	for _, d := range c.p.Demand {
		c.need(d.P10 <= d.P50+1e-9 && d.P50 <= d.P90+1e-9 && d.P10 >= 0 && d.Mean >= 0 && d.Prepare >= -1e-9, "range %+v", d)
		c.need(d.Basis != "", "no basis: %+v", d)
	}
}

func (c *feasibility) costs() {
	x := c.p.Cost
	c.need(x.Total >= x.LowerBound-1e-9*(1+math.Abs(x.Total)), "cost %g below its bound %g", x.Total, x.LowerBound)
	c.need(close6(x.Total, x.Brewing+x.Waste+x.Aging+x.ShortExpected), "cost %+v does not add up", x)
}

func (c *feasibility) warnings() {
	for _, w := range c.p.Warnings {
		c.need(w.Cause != "" && w.Unit != "" && len(w.Fields) > 0, "warning without words: %+v", w)
		c.need(w.ChancePct >= 0 && w.ChancePct <= 100 && w.Amount >= 0, "warning %s: chance %g, amount %g", w.Kind, w.ChancePct, w.Amount)
		c.need(!w.At.Before(c.r.Now), "warning %s of the past", w.Kind)
	}
}
