package risk

import "math"

// slotServing holds the drinks demanded in one slot, the same in all runs, with the stocks and flows that they take (things,
// numbered within the slot), and scratch for one run.
type slotServing struct {
	drinks []slotDrink
	rows   []slotRow
	takes  []slotTake
	things []thing

	need, available, take []float64 // by thing
	asked, unserved       []float64 // by drink: servings demanded, and those not served yet
	servable              []bool    // by drink: nothing that it takes is exhausted
}

type slotDrink struct {
	drink         int
	row, rowEnd   int
	take, takeEnd int
}

type slotRow struct {
	arrivals    []uint8
	perCustomer []float64
}

type slotTake struct {
	thing int
	g     float64
}

type thing struct {
	flow  bool
	index int
	lots  []int // usable in the slot, in order of expiry
}

// serve shares the amounts available in the slot among the drinks demanded, run by run.
func (s *simulation) serve(t int) {
	s.prepare(t)
	p := &s.slot
	if len(p.drinks) == 0 {
		return
	}
	for r := range s.n {
		clear(p.need)
		for j := range p.drinks {
			d := &p.drinks[j]
			x := 0.0
			for _, row := range p.rows[d.row:d.rowEnd] {
				x += float64(row.arrivals[r]) * row.perCustomer[r]
			}
			p.asked[j] = x
			s.asked[s.day][d.drink] += x
			for _, tk := range p.takes[d.take:d.takeEnd] {
				p.need[tk.thing] += x * tk.g
			}
		}
		enough := true
		for k := range p.things {
			p.available[k] = s.available(&p.things[k], r)
			enough = enough && p.need[k] <= p.available[k]
		}
		if enough {
			copy(p.take, p.need)
		} else {
			s.ration(t, r)
		}
		for k := range p.things {
			s.use(&p.things[k], r, t, p.take[k])
		}
	}
}

// prepare fills s.slot for a slot.
func (s *simulation) prepare(t int) {
	p := &s.slot
	p.drinks, p.rows, p.takes, p.things = p.drinks[:0], p.rows[:0], p.takes[:0], p.things[:0]
	for at := 0; at < len(s.active); {
		j, first := s.rows[s.active[at]].Drink, len(p.rows)
		for ; at < len(s.active) && s.rows[s.active[at]].Drink == j; at++ {
			r := &s.rows[s.active[at]]
			if share := r.Share[t-r.Slot]; share > 0 {
				c := s.customers[s.active[at]]
				p.rows = append(p.rows, slotRow{c.at(t - r.Slot), c.perCustomer})
			}
		}
		if len(p.rows) == first {
			continue
		}
		d := &s.in.Drinks[j]
		sd := slotDrink{drink: j, row: first, rowEnd: len(p.rows), take: len(p.takes)}
		for _, tk := range d.Stocks {
			if tk.G > 0 && tk.Index >= 0 && tk.Index < len(s.in.Stocks) {
				p.takes = append(p.takes, slotTake{s.thing(t, false, tk.Index), tk.G})
			}
		}
		for _, tk := range d.Flows {
			if tk.G > 0 && tk.Index >= 0 && tk.Index < len(s.in.Flows) {
				p.takes = append(p.takes, slotTake{s.thing(t, true, tk.Index), tk.G})
			}
		}
		sd.takeEnd = len(p.takes)
		p.drinks = append(p.drinks, sd)
	}
	p.need, p.available, p.take = sized(p.need, len(p.things)), sized(p.available, len(p.things)), sized(p.take, len(p.things))
	p.asked, p.unserved = sized(p.asked, len(p.drinks)), sized(p.unserved, len(p.drinks))
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

func (s *simulation) thing(t int, flow bool, index int) int {
	p := &s.slot
	for k := range p.things {
		if p.things[k].flow == flow && p.things[k].index == index {
			return k
		}
	}
	th := thing{flow: flow, index: index}
	if !flow {
		for _, i := range s.lotsOf[index] {
			if l := s.lots[i]; l.From <= t && t < l.Until {
				th.lots = append(th.lots, i)
			}
		}
	}
	p.things = append(p.things, th)
	return len(p.things) - 1
}

func (s *simulation) available(th *thing, r int) float64 {
	if th.flow {
		return s.flow[th.index][r]
	}
	g := 0.0
	for _, i := range th.lots {
		g += s.left[i][r]
	}
	return g
}

func (s *simulation) use(th *thing, r, t int, g float64) {
	if th.flow {
		s.flow[th.index][r] = math.Max(0, s.flow[th.index][r]-g)
		return
	}
	for _, i := range th.lots {
		y := math.Min(g, s.left[i][r])
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
	any := false
	for j := range p.drinks {
		takes := p.takes[p.drinks[j].take:p.drinks[j].takeEnd]
		p.servable[j] = p.unserved[j] > 0
		for _, tk := range takes {
			p.servable[j] = p.servable[j] && p.left(tk.thing)
		}
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
			p.need[k] = math.Max(0, rest) / p.need[k]
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
			f = math.Min(f, p.need[tk.thing])
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
