package planner

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/bean"
)

// cut is the beverage that is not made because treated water or beans would not be there in time.
type cut struct {
	water  float64            // g
	beans  []float64          // g, by coffee
	bev    []float64          // g, by beverage
	byWhat []string           // models.WarnWaterShort or models.WarnBeansShort, by beverage; empty: none
	first  map[string]int     // first slot in which a supply is missing, by "water" or the coffee's code
	short  map[string]float64 // missing for the plan without limits: L of water, g of a coffee
	days   []beanDay          // of the plan without limits
}

// Names of limits.
const limitWater = "water"

// keepToSupplies schedules the batches again if treated water or beans would not be there in time for those planned, with the limits
// stated, so that the search loses as little as it can.
func (bp *brewPlan) keepToSupplies(ctx context.Context, budget int, earlier []batch.Start) error {
	bp.cut = &cut{beans: make([]float64, len(bp.req.Coffees)), bev: make([]float64, len(bp.req.Beverages)), byWhat: make([]string, len(bp.req.Beverages)),
		first: map[string]int{}, short: map[string]float64{}}
	limits := bp.limits()
	bp.in.Limits = limits
	if bp.in.OverLimit(bp.result.Starts) == "" {
		return nil
	}
	over := map[string]bool{}
	for k := range limits {
		one := *bp.in
		one.Limits = limits[k : k+1]
		if one.OverLimit(bp.result.Starts) != "" {
			over[limits[k].Name] = true
		}
	}
	made := bp.madeG()
	bp.noteShort()
	if err := bp.solve(ctx, bp.drink.loads, budget/2, bp.warmStart(earlier)); err != nil {
		return err
	}
	bp.noteCut(made, over)
	return nil
}

// madeG is the beverage planned, g by beverage.
func (bp *brewPlan) madeG() []float64 {
	out := make([]float64, len(bp.req.Beverages))
	for i := range bp.batches {
		out[bp.options[bp.batches[i].option].bev] += bp.batches[i].g
	}
	return out
}

// noteShort keeps how much of each supply is missing for the batches planned, and from when on.
func (bp *brewPlan) noteShort() {
	note := func(name string, slot int, x float64) {
		if at, ok := bp.cut.first[name]; !ok || slot < at {
			bp.cut.first[name] = slot
		}
		bp.cut.short[name] = max(bp.cut.short[name], x)
	}
	lack := planWater(bp).lack()
	for t, l := range lack {
		if l > lackL {
			note(limitWater, t, models.Sum(lack))
		}
	}
	sums := map[string]float64{}
	if bp.cut.days == nil {
		bp.cut.days = planBeans(bp)
	}
	for _, d := range bp.cut.days {
		if d.day.ShortfallG >= 1 {
			code := bp.req.Coffees[d.coffee].Code
			sums[code] += d.day.ShortfallG
			note(code, max(0, bp.h.slotOf(d.day.Need.UseFrom)), sums[code])
		}
	}
}

// noteCut counts the beverage lost since made to the supplies that were over their limit.
func (bp *brewPlan) noteCut(made []float64, over map[string]bool) {
	for i, g := range bp.madeG() {
		lost := made[i] - g
		bp.cut.bev[i] += lost
		coffee := bp.coffeeOf(i)
		if coffee >= 0 && over[bp.req.Coffees[coffee].Code] {
			bp.cut.beans[coffee] += lost
			bp.cut.byWhat[i] = models.WarnBeansShort
		} else if over[limitWater] {
			bp.cut.water += lost
			if bp.cut.byWhat[i] == "" {
				bp.cut.byWhat[i] = models.WarnWaterShort
			}
		}
	}
}

func (st *setting) coffeeOf(bev int) int {
	return slices.IndexFunc(st.req.Coffees, func(c models.Coffee) bool { return c.Code == st.req.Beverages[bev].Coffee })
}

// limits states what batches may take of treated water and of each coffee's beans.
func (bp *brewPlan) limits() []batch.Limit {
	out := []batch.Limit{bp.waterLimit()}
	for c := range bp.req.Coffees {
		out = append(out, bp.beanLimits(c)...)
	}
	return out
}

// waterLimit is the tank's part of the brewing water that can be there for batches by each slot, g: all that the tank can give, less what
// ice, drinks and rinsing take.
func (bp *brewPlan) waterLimit() batch.Limit {
	n := bp.h.n
	w := bp.waterUse()
	l := batch.Limit{Name: limitWater, MostG: make([]float64, n), PerG: make([]float64, len(bp.req.Beverages)), PerBatch: bp.req.Water.RinseLPerBatch * 1000}
	for i, rc := range bp.recipes {
		l.PerG[i] = w.recipe.Share * rc.unit.BrewWaterG / rc.brew.FinishedPerDose()
	}
	k := bp.tank(w.plumbed)
	room, takes := bp.fillRoom(), bp.req.Site.Work().Fill
	may := make([]bool, n)
	for t := range may {
		may[t] = room[t] > 0 && room[t] >= takes
	}
	drawn := k.Available(may)
	lag := int(math.Ceil(takes/bp.h.slot.Minutes() - 1e-9)) // a fill takes its time
	other := 0.0
	for t := range l.MostG {
		other += w.ice[t] + w.drink[t]
		there := 0.0
		if t >= lag {
			there = drawn[t-lag]
		}
		l.MostG[t] = there + (w.carried-other)*w.recipe.Share
	}
	for t := n - 1; t >= 0; t-- { // what is used early is missing later
		if t+1 < n {
			l.MostG[t] = min(l.MostG[t], l.MostG[t+1])
		}
	}
	for t := range l.MostG {
		l.MostG[t] = bounded(max(0, l.MostG[t]) * 1000)
	}
	return l
}

// beanLimits bound the dose of a coffee, g before the grinder's loss, over spans of service days: the lots that can be used within the
// span, less what drinks made to order take. A span that starts later matters only where lots have become too old by then.
func (bp *brewPlan) beanLimits(coffee int) []batch.Limit {
	x := &bp.req.Coffees[coffee]
	rules := beanRules(x)
	lots, spans := bp.lots(x), bp.serviceDays()
	from := bp.firstPeople()
	order := bp.needs.doses(bp.req, coffee)
	perG := make([]float64, len(bp.req.Beverages))
	used := false
	for i, rc := range bp.recipes {
		if rc.bev.Coffee == x.Code {
			perG[i] = rules.WithLoss(1) / rc.brew.FinishedPerDose()
			used = true
		}
	}
	if !used {
		return nil
	}
	var out []batch.Limit
	var whole []float64
	for a := range spans {
		l := batch.Limit{Name: x.Code, From: spans[a].from, MostG: make([]float64, bp.h.n), PerG: perG}
		usable := make([]bool, len(lots))
		most, taken := make([]float64, len(spans)), 0.0
		for b := a; b < len(spans); b++ {
			for t := spans[b].from; t < spans[b].to; t++ {
				taken += rules.WithLoss(order[t])
			}
			most[b] = -taken
			for k := range lots {
				usable[k] = usable[k] || lots[k].Usable(rules, bean.Need{Date: midnight(spans[b].date), UseFrom: bp.h.at(bp.firstUse(coffee, spans[b]))}, from)
				if usable[k] {
					most[b] += lots[k].Grams
				}
			}
		}
		for b := len(spans) - 2; b >= a; b-- {
			most[b] = min(most[b], most[b+1]) // what is used early is missing later
		}
		if a == 0 {
			whole = most
		} else if slices.Equal(most[a:], whole[a:]) {
			continue // the limit from the first day on says as much
		}
		for b := a; b < len(spans); b++ {
			for t := spans[b].from; t < spans[b].to; t++ {
				l.MostG[t] = bounded(max(0, most[b]))
			}
		}
		out = append(out, l)
	}
	return out
}

// firstUse is the first slot of a day in which a coffee may be used, by a batch or a drink made to order.
func (bp *brewPlan) firstUse(coffee int, d serviceDay) int {
	order := bp.needs.doses(bp.req, coffee)
	for t := d.from; t < d.to; t++ {
		if order[t] > 0 {
			return t
		}
		for k := range bp.options {
			if o := &bp.options[k]; o.may[t] && bp.req.Beverages[o.bev].Coffee == bp.req.Coffees[coffee].Code {
				return t
			}
		}
	}
	return d.from
}

// serviceDay is a run of slots of one service day.
type serviceDay struct {
	date     models.Date
	from, to int
}

// serviceDays splits the slots by their service day.
func (st *setting) serviceDays() []serviceDay {
	var out []serviceDay
	for t := range st.h.n {
		d := st.req.Site.ServiceDayOf(st.h.at(t))
		if k := len(out) - 1; k >= 0 && out[k].date == d {
			out[k].to = t + 1
			continue
		}
		out = append(out, serviceDay{d, t, t + 1})
	}
	return out
}

// lackL is the least water missing that matters, L.
const lackL = 0.01

// lackBeansG is the least coffee missing that matters, g: a batch that lacks more gets no lots.
const lackBeansG = 0.05

// worthSayingL is the least water missing in all that is worth a warning, L.
const worthSayingL = 0.5

// shortfall is the supply that batches lack: how much, and which batches could make do with less.
type shortfall struct {
	name    string
	amount  float64
	batches []int
	perG    func(i int) float64 // supply per g of beverage of a batch
}

// shortOfSupplies returns the first supply of which batches lack some, with exact fills and lots; nil if they lack none.
func (bp *brewPlan) shortOfSupplies() *shortfall {
	w := planWater(bp)
	back := int(keepWaterH / bp.h.hours())
	for t, l := range w.lack() {
		if l <= lackL {
			continue
		}
		s := &shortfall{name: limitWater, amount: l, perG: func(i int) float64 {
			rc := bp.recipes[bp.options[bp.batches[i].option].bev]
			return rc.unit.BrewWaterG / rc.brew.FinishedPerDose() / 1000
		}}
		for i := range bp.batches {
			if p := &bp.batches[i]; p.slot <= t && p.slot >= t-back {
				s.batches = append(s.batches, i)
			}
		}
		if len(s.batches) > 0 {
			return s
		}
	}
	for _, d := range planBeans(bp) {
		if d.day.ShortfallG < lackBeansG {
			continue
		}
		x := &bp.req.Coffees[d.coffee]
		s := &shortfall{name: x.Code, amount: d.day.ShortfallG, perG: func(i int) float64 {
			return beanRules(x).WithLoss(1) / bp.recipes[bp.options[bp.batches[i].option].bev].brew.FinishedPerDose()
		}}
		for i := range bp.batches {
			p := &bp.batches[i]
			if bp.req.Beverages[bp.options[p.option].bev].Coffee == x.Code && bp.req.Site.ServiceDayOf(bp.h.at(p.slot)) <= d.date {
				s.batches = append(s.batches, i)
			}
		}
		if len(s.batches) > 0 {
			return s
		}
	}
	return nil
}

// mendSupplies shrinks or drops the batch that costs least to lose where water or beans are missing, and reports whether it changed
// anything.
func (bp *brewPlan) mendSupplies() (bool, error) {
	s := bp.shortOfSupplies()
	if s == nil {
		return false, nil
	}
	slices.SortStableFunc(s.batches, func(a, b int) int { return cmp.Compare(bp.worth(a)/s.perG(a), bp.worth(b)/s.perG(b)) })
	var best []batch.Start
	least := math.Inf(1)
	for _, i := range s.batches[:min(len(s.batches), mendTries)] {
		p := &bp.batches[i]
		o := &bp.options[p.option]
		next := slices.Clone(bp.result.Starts)
		freed := p.g * s.perG(i)
		if g := o.sizeUpTo(p.g - s.amount/s.perG(i)); g >= o.lo && g > 0 && g < p.g-1 {
			next[i].G = g
			freed = (p.g - g) * s.perG(i)
		} else {
			next = slices.Delete(next, i, i+1)
		}
		r, err := batch.Evaluate(bp.in, next)
		if err != nil {
			continue // a batch before it was kept for this one, say
		}
		if c := (r.Objective - bp.result.Objective) / min(freed, s.amount); c < least {
			best, least = next, c
		}
	}
	if best == nil {
		best = slices.Delete(slices.Clone(bp.result.Starts), s.batches[0], s.batches[0]+1)
	}
	r, err := batch.Evaluate(bp.in, best)
	if err != nil {
		return false, fmt.Errorf("working out the batches: %w", err)
	}
	if _, noted := bp.cut.first[s.name]; !noted {
		bp.noteShort()
	}
	made := bp.madeG()
	bp.result = r
	bp.take()
	bp.chooseIce()
	bp.noteCut(made, map[string]bool{s.name: true})
	return true, nil
}

// mendTries is the number of batches, those that make the least of the supply first, of which the cost of losing them is worked out.
const mendTries = 24

// worth is what a gram of a batch's beverage brings at most, beyond its making.
func (bp *brewPlan) worth(i int) float64 {
	c := &bp.needs.costs[bp.options[bp.batches[i].option].bev]
	return c.short - c.unit
}

// sizeUpTo is the largest size of an option of at most g g, 0 if there is none.
func (o *option) sizeUpTo(g float64) float64 {
	most := 0.0
	for k := range o.sizes {
		if x := o.sizes[k].g; x <= g && x > most {
			most = x
		}
	}
	return most
}
