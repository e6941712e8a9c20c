package risk

import (
	"slices"
)

// slotDemand is the demand of one slot: the drinks asked for, the same in all runs, with the stocks and flows that they take (things,
// numbered within the slot), and the amounts by run. It does not depend on the plan.
type slotDemand struct {
	drinks []slotDrink
	takes  []slotTake
	things []thing

	servings []float64 // asked for, by run and drink
	amounts  []float64 // that they take, by run and thing
}

type slotDrink struct {
	drink         int
	take, takeEnd int
}

type slotTake struct {
	thing int
	g     float64
}

type thing struct {
	flow  bool
	index int
}

// slotServing is scratch for one run of a slot.
type slotServing struct {
	*slotDemand
	lots [][]int // by thing: usable in the slot, in order of expiry

	need, available, take []float64 // by thing
	asked, unserved       []float64 // by drink: servings demanded, and those not served yet
	servable              []bool    // by drink: nothing that it takes is exhausted
	has                   []bool    // by thing: it is not exhausted
}

// serve shares the amounts available in the slot among the drinks demanded, run by run.
func (s *simulation) serve(t int) {
	p := &s.slot
	p.slotDemand = s.demandIn(t)
	if len(p.drinks) == 0 {
		return
	}
	s.findLots(t)
	p.fit()
	drinks, things := len(p.drinks), len(p.things)
	for r := range s.n {
		need := p.amounts[r*things : (r+1)*things]
		enough := true
		for k := range p.things {
			p.available[k] = s.available(k, r)
			enough = enough && need[k] <= p.available[k]
		}
		if !enough {
			p.asked = p.servings[r*drinks : (r+1)*drinks]
			s.ration(t, r)
			need = p.take
		}
		for k := range p.things {
			s.use(k, r, t, need[k])
		}
	}
}

// demandIn returns the demand of a slot, which drawn days keep.
func (s *simulation) demandIn(t int) *slotDemand {
	switch {
	case s.days == nil:
		s.demand.lay(s, t)
		return &s.demand
	case t >= len(s.days.laid):
		x := &slotDemand{}
		x.lay(s, t)
		s.days.laid = append(s.days.laid, x)
	}
	return s.days.laid[t]
}

// lay sets the demand of a slot from the active rows, and adds it to that of its day.
func (x *slotDemand) lay(s *simulation, t int) {
	x.drinks, x.takes, x.things = x.drinks[:0], x.takes[:0], x.things[:0]
	s.selling = s.selling[:0]
	for at := 0; at < len(s.active); {
		j, first := s.rows[s.active[at]].Drink, len(s.selling)
		for ; at < len(s.active) && s.rows[s.active[at]].Drink == j; at++ {
			r := &s.rows[s.active[at]]
			if share := r.Share[t-r.Slot]; share > 0 {
				c := s.customers[s.active[at]]
				s.selling = append(s.selling, slotRow{len(x.drinks), c.at(t - r.Slot), c.perCustomer})
			}
		}
		if len(s.selling) == first {
			continue
		}
		d := &s.in.Drinks[j]
		sd := slotDrink{drink: j, take: len(x.takes)}
		for _, tk := range d.Stocks {
			if tk.G > 0 && tk.Index >= 0 && tk.Index < len(s.in.Stocks) {
				x.takes = append(x.takes, slotTake{x.thing(false, tk.Index), tk.G})
			}
		}
		for _, tk := range d.Flows {
			if tk.G > 0 && tk.Index >= 0 && tk.Index < len(s.in.Flows) {
				x.takes = append(x.takes, slotTake{x.thing(true, tk.Index), tk.G})
			}
		}
		sd.takeEnd = len(x.takes)
		x.drinks = append(x.drinks, sd)
	}
	drinks, things := len(x.drinks), len(x.things)
	x.servings, x.amounts = sized(x.servings, s.n*drinks), sized(x.amounts, s.n*things)
	clear(x.servings)
	clear(x.amounts)
	for _, row := range s.selling {
		for r, k := range row.arrivals {
			x.servings[r*drinks+row.at] += float64(k) * row.perCustomer[r]
		}
	}
	for r := range s.n {
		need := x.amounts[r*things : (r+1)*things]
		for j, n := range x.servings[r*drinks : (r+1)*drinks] {
			d := &x.drinks[j]
			s.asked[s.day][d.drink] += n
			for _, tk := range x.takes[d.take:d.takeEnd] {
				need[tk.thing] += n * tk.g
			}
		}
	}
}

// slotRow is a row that sells in the slot being laid out.
type slotRow struct {
	at          int // index of its drink in the slot
	arrivals    []uint8
	perCustomer []float64
}

// thing returns the number of a stock or flow in the slot.
func (x *slotDemand) thing(flow bool, index int) int {
	k := slices.Index(x.things, thing{flow, index})
	if k < 0 {
		k = len(x.things)
		x.things = append(x.things, thing{flow, index})
	}
	return k
}

// findLots finds the lots that can be used in a slot.
func (s *simulation) findLots(t int) {
	p := &s.slot
	for len(p.lots) < len(p.things) {
		p.lots = append(p.lots, nil)
	}
	for k, th := range p.things {
		p.lots[k] = p.lots[k][:0]
		if th.flow {
			continue
		}
		for _, i := range s.lotsOf[th.index] {
			if l := &s.lots[i]; l.From <= t && t < l.Until {
				p.lots[k] = append(p.lots[k], i)
			}
		}
	}
}

// fit sizes the scratch for the slot.
func (p *slotServing) fit() {
	p.need, p.available, p.take = sized(p.need, len(p.things)), sized(p.available, len(p.things)), sized(p.take, len(p.things))
	p.unserved = sized(p.unserved, len(p.drinks))
	p.servable = p.servable[:0]
	for range p.drinks {
		p.servable = append(p.servable, true)
	}
}

func sized(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	return v[:n]
}

func (s *simulation) available(k, r int) float64 {
	if th := &s.slot.things[k]; th.flow {
		return s.flow[th.index][r]
	}
	g := 0.0
	for _, i := range s.slot.lots[k] {
		g += s.left[i][r]
	}
	return g
}

func (s *simulation) use(k, r, t int, g float64) {
	th := &s.slot.things[k]
	if th.flow {
		s.flow[th.index][r] = max(0, s.flow[th.index][r]-g)
		return
	}
	for _, i := range s.slot.lots[k] {
		y := min(g, s.left[i][r])
		s.left[i][r] -= y
		s.aging[th.index] += y * float64(t-s.lots[i].From)
		if g -= y; g <= 0 {
			return
		}
	}
}

// exhausted is the relative remainder below which a thing counts as exhausted.
const exhausted = 1e-9

// ration serves as much as possible: every drink gets the share of its scarcest thing, then the rest is shared again among the
// drinks that lack nothing. Each round exhausts at least one thing. Missed sales are recorded for the exhausted things.
func (s *simulation) ration(t, r int) {
	p := &s.slot
	copy(p.unserved, p.asked)
	p.serveRounds()
	for j := range p.drinks {
		d := &p.drinks[j]
		if p.unserved[j] <= exhausted*p.asked[j] {
			continue
		}
		s.missed[s.day][d.drink] += p.unserved[j]
		noIce := false
		for _, tk := range p.takes[d.take:d.takeEnd] {
			if th := &p.things[tk.thing]; !p.left(tk.thing) {
				s.ledgerOf(th).record(r, t, p.unserved[j]*tk.g)
				noIce = noIce || th.flow && s.in.Flows[th.index].Ice
			}
		}
		if noIce {
			s.noIce[s.day][d.drink] += p.unserved[j]
		}
		s.chargeMissed(r, d.drink, p.unserved[j], noIce)
	}
}

// left reports whether thing k is not exhausted.
func (p *slotServing) left(k int) bool {
	return p.available[k]-p.take[k] > exhausted*(p.available[k]+1)
}

// serveRounds serves what is asked and unserved, and sets take.
func (p *slotServing) serveRounds() {
	clear(p.take)
	for range len(p.things) + 1 {
		if !p.round() {
			return
		}
	}
}

// round shares once; it returns false if nothing more can be served.
func (p *slotServing) round() bool {
	clear(p.need)
	p.has = p.has[:0]
	for k := range p.things {
		p.has = append(p.has, p.left(k))
	}
	any := false
	for j := range p.drinks {
		takes := p.takes[p.drinks[j].take:p.drinks[j].takeEnd]
		p.servable[j] = p.unserved[j] > 0 && !slices.ContainsFunc(takes, func(tk slotTake) bool { return !p.has[tk.thing] })
		if !p.servable[j] {
			continue
		}
		any = true
		for _, tk := range takes {
			p.need[tk.thing] += p.unserved[j] * tk.g
		}
	}
	if !any {
		return false
	}
	for k := range p.need { // from here on need is the share that can be met
		rest := p.available[k] - p.take[k]
		if p.need[k] > rest {
			p.need[k] = max(0, rest) / p.need[k]
		} else {
			p.need[k] = 1
		}
	}
	served := false
	for j := range p.drinks {
		if !p.servable[j] {
			continue
		}
		f := 1.0
		takes := p.takes[p.drinks[j].take:p.drinks[j].takeEnd]
		for _, tk := range takes {
			f = min(f, p.need[tk.thing])
		}
		if !(f > 0) {
			continue
		}
		x := f * p.unserved[j]
		if f == 1 {
			p.unserved[j] = 0
		} else {
			p.unserved[j] -= x
		}
		for _, tk := range takes {
			p.take[tk.thing] += x * tk.g
		}
		served = true
	}
	return served
}

func (s *simulation) ledgerOf(th *thing) *ledger {
	if th.flow {
		return &s.flows[th.index]
	}
	return &s.stocks[th.index]
}
