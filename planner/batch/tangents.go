package batch

import "math"

// manySpans is the number of spans from which the master prices the bin's shortage by its tangents instead of a row for
// each span: the rows would make it slow, and it does without what they tell more, the ice cuts.
const manySpans = 260

// tangent is a plane under what the bin's shortage costs (Benders, Numerische Mathematik 4 (1962)), or, where owed is
// set, what the ice that batches take must keep to be there at all.
type tangent struct {
	price []float64 // by slot, a gram taken
	owed  bool
}

// touch adds a tangent where the mix stands, if the master knows too little there, and says how many.
func (m *master) touch() int {
	b := m.p.ice
	if b == nil || m.theta < 0 {
		return 0
	}
	taken, need := make([]float64, m.p.slots), make([]float64, m.p.slots+1)
	m.active(func(pl *plan, w float64) {
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
		from, limit := b.lacking(need)
		b.needed(need, from, price)
		if over := b.wanted(taken, from, price) - limit; over > 1e-3 {
			m.touchAt(tangent{price: price, owed: true}, dot(price, taken)-over)
			return 1
		}
		return 0
	}
	if m.lp.value(m.theta) >= cost-1e-4*max(1, cost) {
		return 0
	}
	b.priced(need, run, price)
	m.touchAt(tangent{price: price}, dot(price, taken)-cost)
	return 1
}

// touchAt adds the row Σ price·taken − theta ≤ rhs; one that is owed has no theta and counts kilograms.
func (m *master) touchAt(g tangent, rhs float64) {
	m.tangents = append(m.tangents, g)
	if g.owed {
		rhs /= 1000
	}
	m.row(shared{kind: rowTangent, of: len(m.tangents) - 1}, rhs, m.elastic)
}

func (m *master) tangentCoef(g *tangent, pl *plan) float64 {
	sum := 0.0
	for _, s := range pl.starts {
		o := &m.p.opts[s.opt]
		if t := s.slot + o.iceSlots; t < m.p.slots {
			sum += g.price[t] * s.g * o.icePerG
		}
	}
	if g.owed {
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

// iceColumns gives the master a column for what the bin's shortage costs.
func (m *master) iceColumns() {
	m.theta = m.lp.addColumn(column{cost: 1, upper: math.Inf(1)})
	m.cols = append(m.cols, nil)
}
