package batch

import "math"

// maxSpanRows is the number of spans above which the master models the cost of ice shortage by Benders cuts instead of a row per
// span. The rows would make it slow; without them there are no ice cuts.
const maxSpanRows = 260

// bendersCut is a Benders cut (Numerische Mathematik 4 (1962)): an optimality cut, which supports the convex cost of ice shortage
// from below, or a feasibility cut on the ice taken by batches.
type bendersCut struct {
	price       []float64 // by slot, per gram taken
	feasibility bool      // a feasibility cut
}

// addBendersCuts adds the Benders cut at the master solution if it is violated, and returns the number of cuts added.
func (m *master) addBendersCuts() int {
	b := m.p.ice
	if b == nil || m.theta < 0 {
		return 0
	}
	taken, need := make([]float64, m.p.slots), make([]float64, m.p.slots+1)
	m.eachActive(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			o := &m.p.opts[s.opt]
			if t := s.slot + o.iceSlots; t < m.p.slots {
				taken[t] += w * s.g * o.icePerG
			}
		}
	})
	price := make([]float64, m.p.slots)
	run := &iceRun{level: make([]float64, m.p.slots), made: make([]float64, m.p.slots), short: make([]float64, m.p.slots)}
	cost, ok := b.run(taken, need, run)
	if !ok {
		from, limit := b.bottleneck(need)
		b.needWeights(need, from, price)
		if over := b.needBefore(taken, from, price) - limit; over > 1e-3 {
			m.addBendersCut(bendersCut{price: price, feasibility: true}, dot(price, taken)-over)
			return 1
		}
		return 0
	}
	if m.lp.value(m.theta) >= cost-1e-4*max(1, cost) {
		return 0
	}
	b.subgradient(need, run, price)
	m.addBendersCut(bendersCut{price: price}, dot(price, taken)-cost)
	return 1
}

// addBendersCut adds the row Σ price·taken − theta ≤ rhs; a feasibility cut is without theta and in kg.
func (m *master) addBendersCut(g bendersCut, rhs float64) {
	m.benders = append(m.benders, g)
	if g.feasibility {
		rhs /= 1000
	}
	m.row(rowKey{kind: rowBenders, of: len(m.benders) - 1}, rhs, m.penalty)
}

func (m *master) bendersCoef(g *bendersCut, pl *plan) float64 {
	sum := 0.0
	for _, s := range pl.starts {
		o := &m.p.opts[s.opt]
		if t := s.slot + o.iceSlots; t < m.p.slots {
			sum += g.price[t] * s.g * o.icePerG
		}
	}
	if g.feasibility {
		sum /= 1000
	}
	return sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// addTheta adds theta, the column for the cost of ice shortage.
func (m *master) addTheta() {
	m.theta = m.lp.addColumn(column{cost: 1, upper: math.Inf(1)})
	m.cols = append(m.cols, nil)
}
