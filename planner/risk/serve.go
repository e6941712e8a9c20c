package risk

import "math"

// slotServing is one slot's serving, the same for all runs: who is asked for and what it takes. Things are the stocks and flows
// that anything in the slot takes, numbered anew.
type slotServing struct {
	drinks []slotDrink
	rows   []slotRow
	takes  []slotTake
	things []thing

	need, there, take []float64 // by thing
	asked, open       []float64 // by drink: servings asked for, and those not yet served
	able              []bool    // by drink: nothing that it takes is used up
}

type slotDrink struct {
	drink         int
	row, rowEnd   int
	take, takeEnd int
}

type slotRow struct {
	came []uint8
	each []float64
}

type slotTake struct {
	thing int
	g     float64
}

type thing struct {
	flow  bool
	index int
	lots  []int // open ones, in order of expiry
}

// serve shares what is there in the slot among the drinks asked for, run by run.
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
				x += float64(row.came[r]) * row.each[r]
			}
			p.asked[j] = x
			s.asked[d.drink] += x
			for _, tk := range p.takes[d.take:d.takeEnd] {
				p.need[tk.thing] += x * tk.g
			}
		}
		enough := true
		for k := range p.things {
			p.there[k] = s.there(&p.things[k], r)
			enough = enough && p.need[k] <= p.there[k]
		}
		if enough {
			copy(p.take, p.need)
		} else {
			s.ration(t, r)
		}
		for k := range p.things {
			s.use(&p.things[k], r, p.take[k])
		}
	}
}

// prepare lists the drinks of the slot.
func (s *simulation) prepare(t int) {
	p := &s.slot
	p.drinks, p.rows, p.takes, p.things = p.drinks[:0], p.rows[:0], p.takes[:0], p.things[:0]
	for at := 0; at < len(s.active); {
		j, first := s.rows[s.active[at]].Drink, len(p.rows)
		for ; at < len(s.active) && s.rows[s.active[at]].Drink == j; at++ {
			r := &s.rows[s.active[at]]
			if share := r.Share[t-r.Slot]; share > 0 {
				c := s.customers[s.active[at]]
				p.rows = append(p.rows, slotRow{c.at(t - r.Slot), c.each})
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
	p.need, p.there, p.take = sized(p.need, len(p.things)), sized(p.there, len(p.things)), sized(p.take, len(p.things))
	p.asked, p.open = sized(p.asked, len(p.drinks)), sized(p.open, len(p.drinks))
	p.able = p.able[:0]
	for range p.drinks {
		p.able = append(p.able, true)
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
		for _, i := range s.ofLot[index] {
			if l := s.lots[i]; l.From <= t && t < l.Until {
				th.lots = append(th.lots, i)
			}
		}
	}
	p.things = append(p.things, th)
	return len(p.things) - 1
}

func (s *simulation) there(th *thing, r int) float64 {
	if th.flow {
		return s.flow[th.index][r]
	}
	g := 0.0
	for _, i := range th.lots {
		g += s.left[i][r]
	}
	return g
}

func (s *simulation) use(th *thing, r int, g float64) {
	if th.flow {
		s.flow[th.index][r] = math.Max(0, s.flow[th.index][r]-g)
		return
	}
	for _, i := range th.lots {
		if g <= s.left[i][r] {
			s.left[i][r] -= g
			return
		}
		g -= s.left[i][r]
		s.left[i][r] = 0
	}
}

// usedUp is the part of a thing's need that counts as nothing left.
const usedUp = 1e-9

// ration serves what can be served: every drink gets the share of its scarcest thing, and what missed drinks leave is shared
// again among those that lack nothing. Each round uses up at least one thing. What stays missing is booked on the things
// that are used up.
func (s *simulation) ration(t, r int) {
	p := &s.slot
	clear(p.take)
	copy(p.open, p.asked)
	for range len(p.things) + 1 {
		if !s.round() {
			break
		}
	}
	for j := range p.drinks {
		d := &p.drinks[j]
		if p.open[j] <= usedUp*p.asked[j] {
			continue
		}
		s.missed[d.drink] += p.open[j]
		for _, tk := range p.takes[d.take:d.takeEnd] {
			if !p.left(tk.thing) {
				s.ledgerOf(&p.things[tk.thing]).book(r, t, p.open[j]*tk.g)
			}
		}
	}
}

// left reports whether anything of a thing is left; need is that of the whole slot while rationing began.
func (p *slotServing) left(k int) bool { return p.there[k]-p.take[k] > usedUp*(p.there[k]+1) }

// round shares once; false when nothing more can be served.
func (s *simulation) round() bool {
	p := &s.slot
	clear(p.need)
	any := false
	for j := range p.drinks {
		takes := p.takes[p.drinks[j].take:p.drinks[j].takeEnd]
		p.able[j] = p.open[j] > 0
		for _, tk := range takes {
			p.able[j] = p.able[j] && p.left(tk.thing)
		}
		if !p.able[j] {
			continue
		}
		any = true
		for _, tk := range takes {
			p.need[tk.thing] += p.open[j] * tk.g
		}
	}
	if !any {
		return false
	}
	for k := range p.need { // now the share of the need that can be met
		rest := p.there[k] - p.take[k]
		if p.need[k] > rest {
			p.need[k] = math.Max(0, rest) / p.need[k]
		} else {
			p.need[k] = 1
		}
	}
	served := false
	for j := range p.drinks {
		if !p.able[j] {
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
		x := f * p.open[j]
		if f == 1 {
			p.open[j] = 0
		} else {
			p.open[j] -= x
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
