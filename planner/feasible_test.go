package planner

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
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
	c.baths()
	c.checks()
	c.wells()
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
			if !t.Before(s.From.Add(-pad)) && t.Before(s.To.Add(pad)) {
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
		// Where smallest and largest are closer than the scale's resolution, the batch is a gram of coffee below.
		c.need(b.BeverageG >= w.MinBeverageG-max(1, c.r.Site.ScaleG)*bev.Ratio && b.BeverageG <= w.MaxBeverageG+1e-6, "%s: %g g outside %g–%g", b.ID, b.BeverageG, w.MinBeverageG, w.MaxBeverageG)
		c.need(b.BeverageG > 0, "%s: a batch of nothing", b.ID)
		c.need(w.MaxDoseG == nil || b.DoseG <= *w.MaxDoseG+1e-6, "%s: dose %g above the basket", b.ID, b.DoseG)
		c.need(w.MaxWaterG == nil || b.BrewWaterG <= *w.MaxWaterG+1e-6, "%s: water %g above the vessel", b.ID, b.BrewWaterG)
		c.need(c.there(b.Start), "%s starts at %s when nobody is there", b.ID, b.Start)
		end := b.Start.Add(minute(w.BusyMin))
		c.need(c.available(w, b.Start, end), "%s: %s–%s lies outside the brewer's spans", b.ID, b.Start, end)
		for _, o := range c.r.Outages {
			if o.Kind == "brewer" && o.Code == w.Code {
				c.need(!b.Start.Before(o.To) || !o.From.Before(end), "%s: the brewer is out", b.ID)
			}
		}
		busy = append(busy, taken{b.Brewer, b.Start, end, b.ID})
		c.size(b, bev, w)
		c.times(b, bev, w)
	}
	for i := range busy {
		for k := range i {
			x, y := busy[i], busy[k]
			c.need(x.brewer != y.brewer || !x.from.Before(y.to) || !y.from.Before(x.to), "%s and %s overlap on %s", x.id, y.id, x.brewer)
		}
	}
	c.hands()
	c.presence()
	c.minutes()
	c.bathVessels()
}

// size holds a batch to the sizes of its brewer, within a step of the dose, and its amounts to what the scale shows.
func (c *feasibility) size(b *models.BatchTask, bev *models.Beverage, w *models.Brewer) {
	perDose := bev.Ratio + bev.MaxYieldPct/100 - bev.RetainedRatio
	if len(w.SizesG) > 0 {
		c.need(slices.ContainsFunc(w.SizesG, func(g float64) bool { return math.Abs(g-b.BeverageG) <= 5*perDose+0.01*g }), "%s: %g g is none of %v", b.ID, b.BeverageG, w.SizesG)
	}
	for _, g := range []float64{b.DoseG, b.BrewWaterG, b.IceG} {
		c.need(wholeSteps(g, max(1, c.r.Site.ScaleG)), "%s: the scale does not show %g g", b.ID, g)
	}
	c.need(wholeSteps(b.BathIceG, 100), "%s: %g g of bath ice", b.ID, b.BathIceG)
}

func (c *feasibility) times(b *models.BatchTask, bev *models.Beverage, w *models.Brewer) {
	hold := minute(min(bev.HoldH, c.r.Site.MaxHoldH) * 60)
	c.need(b.UseBy.Equal(b.Ready.Add(hold)), "%s: use by %s is not %s after ready", b.ID, b.UseBy, hold)
	if bev.Method == models.Steeped {
		strain := b.Start.Add(minute(*bev.SteepH * 60))
		c.need(b.StrainAt.Equal(strain), "%s strained at %s, want %s", b.ID, b.StrainAt, strain)
		c.need(c.there(b.StrainAt), "%s is strained at %s when nobody is there", b.ID, b.StrainAt)
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
		within := 0.01
		if b.State == models.Due {
			within = max(within, 1/water) // a gram of a tiny batch is more
		}
		c.need(math.Abs((b.BrewWaterG+b.IceG)/water-1) <= within+1e-9, "%s: ice %g, water %g of %g", b.ID, b.IceG, b.BrewWaterG, water)
		c.need(math.Abs(b.IceG-water*bev.IceShare) <= max(10, 0.02*water), "%s: ice %g of %g", b.ID, b.IceG, water)
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
	c.need(math.Abs(x.OpeningG+x.MadeG-x.StirredInG-x.ServedG-x.BathFromDrinksG-x.MeltedG-x.LeftG) <= 1e-6*(1+x.OpeningG+x.MadeG), "ice does not balance: %+v",
		[]float64{x.OpeningG, x.MadeG, x.StirredInG, x.ServedG, x.BathFromDrinksG, x.MeltedG, x.LeftG})
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
		c.need(len(q.Loads) > 0 || q.MakeG <= c.canMake([]string{q.Maker}, q.From, q.Due)+1, "%s cannot make %g from %s to %s", q.Maker, q.MakeG, q.From, q.Due)
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
			c.need(begun || c.there(l.FillAt), "%s filled at %s when nobody is there", m.Code, l.FillAt)
			c.need(c.there(l.TakeAt), "%s taken at %s when nobody is there", m.Code, l.TakeAt)
			c.need(l.TakeAt.Sub(l.FillAt) >= minute(f.Minutes)-time.Second, "%s frozen in %s, takes %.0f min", m.Code, l.TakeAt.Sub(l.FillAt), f.Minutes)
			c.need(begun || close6(l.G, m.LoadG), "%s: a load of %g g", m.Code, l.G)
			n := 0
			for _, o := range loads {
				if !o.FillAt.After(l.FillAt) && l.FillAt.Before(o.TakeAt) {
					n++
				}
			}
			c.need(n <= m.LoadsAtOnce, "%s: %d loads at once", m.Code, n)
			together := 0.0
			for _, o := range loads {
				if o.TakeAt.Equal(l.TakeAt) {
					together += o.G
				}
			}
			c.need(begun || together >= 1000-1e-6 || c.atEdge(l.TakeAt), "%s: %g g emptied at %s", m.Code, together, l.TakeAt)
		}
	}
}

// waterBalance holds the fills to the tank and the batches to the fills: minute by minute, the tank gives no more than it holds, and
// brewing water is used once it has been filled.
func (c *feasibility) waterBalance() {
	w := &c.r.Water
	start := c.p.Tank.Levels[0].At
	level, at := min(w.OpeningL, w.TankL), start
	filled := 0.0
	for _, u := range c.r.UnderWay { // what is left of earlier fills is at most all of them
		if u.Kind == models.TaskWaterDraw && u.L != nil {
			filled += *u.L
		}
	}
	var total models.WaterDraw
	salts := len(w.Salts) > 0
	for i := range c.p.Water {
		d := &c.p.Water[i]
		c.need(close6(d.DrawL, d.ROL+d.TapL) && d.ROL >= 0 && d.TapL >= -1e-9, "fill %+v", d)
		c.need(d.DrawL >= d.BrewL+d.IceL+d.RinseL+d.DrinkL-1e-6, "more is used than filled: %+v", d)
		c.need(!d.At.Before(c.r.Now) && c.mayAct(d.At), "fill at %s when nobody is there", d.At)
		c.need(!d.At.Add(minute(5*math.Ceil(d.DrawL/max(w.ContainerL, 20)-1e-9))).After(d.By) || d.BrewL+d.IceL+d.DrinkL == 0, "fill at %s for a use at %s", d.At, d.By)
		c.need(w.ContainerL <= 0 || d.DrawL <= w.ContainerL*float64(d.Containers)+1e-9, "%d containers for %g L", d.Containers, d.DrawL)
		for _, o := range c.r.Outages {
			c.need(o.Kind != "tank" || d.At.Before(o.From) || !d.At.Before(o.To), "fill at %s while the tank is out", d.At)
		}
		for ; at.Before(d.At); at = at.Add(time.Minute) {
			level = min(level+c.madeInMinute(at), w.TankL) // at the most: ice machines and rinsing are left out
		}
		c.need(d.ROL <= level+0.01, "%s: %g L out of a tank of %g", d.At, d.ROL, level)
		level -= d.ROL
		c.need(d.TankAfterL >= -1e-9 && d.TankAfterL <= w.TankL+1e-9, "tank holds %g of %g", d.TankAfterL, w.TankL)
		total.BrewL += d.BrewL
		for _, s := range d.Dose {
			c.need(s.G > 0, "dose of %g g", s.G)
		}
		for _, m := range d.Concentrates {
			c.need(salts && m.ML > 0 && close6(m.ML*2, math.Round(m.ML*2)), "%g mL of %s", m.ML, m.Code)
			c.need(c.mixedBefore(m.Code, d.At), "concentrate %s is used at %s and mixed later", m.Code, d.At)
		}
	}
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		if b.State != models.Due {
			continue
		}
		used := 0.0
		for k := range c.p.Batches {
			if o := &c.p.Batches[k]; o.State == models.Due && !o.Start.After(b.Start) {
				used += o.BrewWaterG / 1000
			}
		}
		there := filled
		for _, d := range c.p.Water {
			if d.At.Before(b.Start) {
				there += d.DrawL
			}
		}
		c.need(used <= there+0.02*float64(len(c.p.Batches)), "%s: batches up to it use %g L, %g L are filled", b.ID, used, there)
	}
	x := c.p.Tank
	c.need(math.Abs(x.OpeningL+x.MadeL+x.ShortL-x.DrawnL-x.IceL-x.RinseL-x.LeftL) <= 1e-6*(1+x.MadeL+x.OpeningL), "tank does not balance: %+v",
		[]float64{x.OpeningL, x.MadeL, x.ShortL, x.DrawnL, x.IceL, x.RinseL, x.LeftL})
	for _, l := range x.Levels {
		c.need(l.L >= -1e-9 && l.L <= w.TankL+1e-9, "%s: %g L in a tank of %g", l.At, l.L, w.TankL)
	}
}

func (c *feasibility) madeInMinute(t time.Time) float64 {
	for _, o := range c.r.Outages {
		if o.Kind == "tank" && !t.Before(o.From) && t.Before(o.To) {
			return 0
		}
	}
	return c.r.Water.MakeLPerH / 60
}

// mixedBefore reports whether a concentrate is there at a time: mixed by the plan, or under way when it was made.
func (c *feasibility) mixedBefore(code string, t time.Time) bool {
	for _, m := range c.p.Mixes {
		if m.Code == code && !m.At.After(t) && m.GoodTo.After(t) {
			return true
		}
	}
	return slices.ContainsFunc(c.r.UnderWay, func(u models.UnderWay) bool { return u.Kind == models.TaskMix && u.Lot != nil && *u.Lot == code })
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
			c.need(pulled[date]+1 >= g, "%s of %s: %g g needed, %g pulled", x.Code, date, g, pulled[date])
		}
		c.need(all <= have+float64(1+c.r.Days), "%s: %g g used of %g", x.Code, all, have)
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

// canMake is the most that ice machines make in a span, g: in the coolest air that there is.
func (c *feasibility) canMake(codes []string, from, to time.Time) (g float64) {
	coolest := models.UnknownHottestC
	for _, w := range c.r.Weather {
		coolest = min(coolest, w.TempC)
	}
	for _, m := range c.r.Ice.Makers {
		if slices.Contains(codes, m.Code) {
			machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
			for _, p := range m.Curve {
				machine.Curve = append(machine.Curve, ice.Point(p))
			}
			g += machine.KgPerDay(coolest, c.r.Ice.InletWaterC) * 1000 * to.Sub(from).Hours() / 24
		}
	}
	return g
}

// atEdge reports whether the shop is closed half an hour before or after t, or at t.
func (c *feasibility) atEdge(t time.Time) bool {
	open := func(t time.Time) bool {
		d := models.DateOf(t, c.loc)
		for _, e := range c.r.Events {
			if e.Closed && !t.Before(e.From) && t.Before(e.To) {
				return false
			}
		}
		for _, date := range []models.Date{d.AddDays(-1), d} {
			for _, s := range c.r.Site.OpenSpans(date) {
				if s.Contains(t) {
					return true
				}
			}
		}
		return false
	}
	return !open(t) || !open(t.Add(-30*time.Minute-time.Second)) || !open(t.Add(30*time.Minute))
}

// baths holds each ice bath to the rules of the trade and to its heat.
func (c *feasibility) baths() {
	drinks := 0.0
	plain := c.r.Ice.Plain.OpeningG > 0
	for _, m := range c.r.Ice.Makers {
		plain = plain || !m.Treated
	}
	for _, m := range c.r.Ice.Moulds {
		plain = plain || !m.Treated
	}
	for i := range c.p.Batches {
		b := &c.p.Batches[i]
		bev := c.beverage(b.Beverage)
		c.need(math.Mod(b.BathIceG, 100) == 0, "%s: bath ice of %g g", b.ID, b.BathIceG)
		c.need(b.BathFromDrinksG >= 0 && b.BathFromDrinksG <= b.BathIceG+1e-6, "%s: %g g of %g g from the ice for drinks", b.ID, b.BathFromDrinksG, b.BathIceG)
		drinks += b.BathFromDrinksG
		if b.BathIceG == 0 || b.State != models.Due {
			continue
		}
		c.need(bev.Bath, "%s: a bath that its beverage does not have", b.ID)
		mass := b.BeverageG - b.IceG
		if c.r.Ice.BathIcePerKg != nil {
			c.need(b.BathIceG >= *c.r.Ice.BathIcePerKg*mass-1e-6, "%s: bath ice %g for %g g", b.ID, b.BathIceG, mass)
			continue
		}
		share := map[string]float64{models.Flash: 0.75, models.HotChilled: 1}[bev.Method]
		c.need(b.BathIceG >= share*mass*0.995, // weighed out in steps
			"%s: bath ice %g for %g g of %s", b.ID, b.BathIceG, mass, bev.Method)
		rest := b.BrewerOutTempC
		if bev.RestTempC != nil && bev.Method != models.Steeped {
			rest = min(rest, *bev.RestTempC)
		}
		heat := chill.BathIceG(mass, rest, *b.CoolToBeforeIceC, bev.BathTempC, c.r.Ice.IceTempC, 0)
		c.need(b.BathIceG >= heat-1e-6, "%s: bath ice %g, its heat takes %g", b.ID, b.BathIceG, heat)
		c.need(plain || b.BathFromDrinksG == b.BathIceG, "%s: bath ice from nowhere", b.ID)
		c.need(b.BathWaterL <= math.Ceil(mass/1000)+1e-9, "%s: %g L around %g g", b.ID, b.BathWaterL, mass)
	}
	c.need(math.Abs(drinks-c.p.Ice.BathFromDrinksG) <= 1, "baths take %g of the ice for drinks, the plan says %g", drinks, c.p.Ice.BathFromDrinksG)
}

// checks: an ice bin is looked into at most twice a day, by somebody who is there, for a level that it can hold.
func (c *feasibility) checks() {
	type bin struct {
		date models.Date
		bath bool
	}
	count := map[bin]int{}
	for _, q := range c.p.Ice.Checks {
		k := bin{q.Date, q.BathIce}
		count[k]++
		c.need(count[k] <= 2*len(c.r.Site.OpenSpans(q.Date)), "%v: %d looks into an ice bin", k, count[k])
		c.need(c.mayAct(q.Due), "a look into the ice bin at %s when nobody is there", q.Due)
		c.need(q.LevelG > 0 && q.LevelG <= q.BinG+1e-6, "a level of %g in an ice bin of %g", q.LevelG, q.BinG)
		c.need(q.Quarters >= 1 && q.Quarters <= 4 && math.Abs(q.LevelG/q.BinG*4-float64(q.Quarters)) <= 1, "%g of %g is not %d quarters", q.LevelG, q.BinG, q.Quarters)
		c.need(q.MakeG <= c.canMake(q.Makers, q.From, q.Due)+1, "%v cannot make %g from %s to %s", q.Makers, q.MakeG, q.From, q.Due)
		if q.BathIce {
			continue
		}
		for _, l := range c.p.Ice.Levels {
			if l.At.Equal(q.Due) {
				c.need(q.LevelG <= l.G+1e-6, "%s: %g asked for, the curve says %g", q.Due, q.LevelG, l.G)
			}
		}
	}
}

// wells: nobody carries ice when nobody is there, nor more than a well holds.
func (c *feasibility) wells() {
	for _, f := range c.p.Ice.WellFills {
		k := slices.IndexFunc(c.r.Site.IceWells, func(w models.IceWell) bool { return w.Code == f.Well })
		if k < 0 {
			c.say("no well %q", f.Well)
			continue
		}
		c.need(f.G > 0 && f.G <= c.r.Site.IceWells[k].HoldsG+1e-6, "%g g into a well of %g", f.G, c.r.Site.IceWells[k].HoldsG)
		c.need(c.mayAct(f.At), "%s is filled at %s when nobody is there", f.Well, f.At)
	}
}
