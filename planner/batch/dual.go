package batch

// dual evaluates the Lagrangian relaxation: each beverage and the ice bin alone, at prices for the shared capacities.
type dual struct {
	p  *problem
	dp *lotDP
}

func newDual(p *problem, pool *cutPool) *dual { return &dual{p: p, dp: newLotDP(p, pool)} }

// value is the Lagrangian bound at prices q. plans, unless nil, is called with the optimal plan of each beverage.
func (d *dual) value(q *prices, plans func(*plan)) float64 {
	p := d.p
	d.dp.setPrices(q)
	d.dp.residual = nil
	total := d.iceValue(q) + q.constant
	for n, price := range q.cut {
		total -= price * d.dp.pool.cuts[n].rhs
	}
	for b := range q.brewer {
		for _, v := range q.brewer[b] {
			total -= v
		}
	}
	for t := range q.people {
		total -= q.people[t]*float64(p.people[t]) + q.store[t]*(p.store[t]-p.early[t])
	}
	for i := range p.bevs {
		v := d.dp.solve(i)
		total += v
		if plans != nil {
			plans(d.dp.traceback(i))
		}
	}
	return total
}

// iceValue is the minimum cost of the bin alone at the prices, over ice made, kept and served in glasses.
func (d *dual) iceValue(q *prices) float64 {
	b := d.p.ice
	if b == nil {
		return 0
	}
	slots := len(q.ice)
	level := make([]float64, slots)
	for n, price := range q.cut {
		if k := &d.dp.pool.cuts[n]; k.kind == cutIce {
			level[k.to] += price
		}
	}
	value := -b.keep * b.opening * q.ice[0]
	for t, price := range q.ice {
		next := 0.0
		if t+1 < slots {
			next = q.ice[t+1]
		}
		value += price*(b.serve[t]+b.fixedAt(t)) + min(0, -price)*b.make[t] + min(0, b.short-price)*b.serve[t] +
			min(0, price-b.keep*next+level[t])*b.capacity
	}
	return value
}

// iceAt is the cost, at prices q, of the bin alone as it is optimal at prices at.
func (d *dual) iceAt(at, q *prices) float64 {
	b := d.p.ice
	level := make([]float64, len(q.ice))
	atLevel := make([]float64, len(q.ice))
	for n := range d.dp.pool.cuts {
		if k := &d.dp.pool.cuts[n]; k.kind == cutIce {
			if n < len(q.cut) {
				level[k.to] += q.cut[n]
			}
			if n < len(at.cut) {
				atLevel[k.to] += at.cut[n]
			}
		}
	}
	value := -b.keep * b.opening * q.ice[0]
	for t, price := range q.ice {
		next, atNext := 0.0, 0.0
		if t+1 < len(q.ice) {
			next, atNext = q.ice[t+1], at.ice[t+1]
		}
		value += price * (b.serve[t] + b.fixedAt(t))
		if at.ice[t] > 0 {
			value -= price * b.make[t]
		}
		if at.ice[t] > b.short {
			value += (b.short - price) * b.serve[t]
		}
		if at.ice[t]-b.keep*atNext+atLevel[t] < 0 {
			value += (price - b.keep*next + level[t]) * b.capacity
		}
	}
	return value
}
