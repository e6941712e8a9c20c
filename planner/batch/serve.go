package batch

// serveEDF serves the beverage's demand from its lots in order of expiry, without holding anything back, and returns the cost
// of shortage, aging and disposal less the carry credit. It adds the stock at the end of each slot to level, and the amounts
// served (by lot and slot) and short (by slot) to served and short, all unless nil. lots must be sorted by expiry; their grams
// are replaced by the remainder.
func (b *beverage) serveEDF(lots []lot, level []float64, served [][]float64, short []float64) float64 {
	if level != nil {
		for k := range lots {
			lots[k].addEarly(level, 0)
		}
	}
	e := edf{lots: lots}
	e.serve(b, len(b.demand), level, served, short)
	return e.finish(b)
}

// edf is the state of serving lots in order of expiry, before slot t.
type edf struct {
	lots []lot // sorted by expiry; their grams are what is left
	t    int
	head int // lots before it are used up or expired
	cost float64
}

// serve serves the slots before to; see serveEDF.
func (e *edf) serve(b *beverage, to int, level []float64, served [][]float64, short []float64) {
	lots, cost, head := e.lots, e.cost, e.head
	inOrder := len(lots) - 1 // lots from here on are in order of readiness too
	for inOrder > 0 && lots[inOrder-1].ready <= lots[inOrder].ready {
		inOrder--
	}
	for t := e.t; t < to; t++ {
		for head < len(lots) && (lots[head].expires <= t || lots[head].g <= 0) {
			head++
		}
		need := b.demand[t]
		held := 0.0
		for k := head; k < len(lots); k++ {
			l := &lots[k]
			if l.ready > t {
				if k >= inOrder {
					break
				}
				continue
			}
			if l.expires <= t {
				continue
			}
			if need > 0 && l.g > 0 {
				y := min(need, l.g)
				need -= y
				l.g -= y
				cost += y * b.aging * float64(t-l.ready)
				if served != nil {
					served[k][t] += y
				}
			}
			held += l.g
		}
		if need > 0 {
			cost += need * b.short
			if short != nil {
				short[t] = need
			}
		}
		if level != nil {
			level[t] += held
		}
	}
	e.t, e.cost, e.head = to, cost, head
}

// finish adds the cost of what is left of the lots after the horizon and returns the cost.
func (e *edf) finish(b *beverage) float64 {
	for k := range e.lots {
		if l := &e.lots[k]; l.g > 0 {
			e.cost += b.leftCost(l) * l.g
		}
	}
	return e.cost
}

// leftCost is the cost of a gram that is never served: disposal, or minus the credit if the lot is carried over.
func (b *beverage) leftCost(l *lot) float64 {
	if l.expires > b.carry {
		return -b.credit
	}
	return b.disposal
}

// iceRun is the detail of a run of the ice bin, by slot.
type iceRun struct {
	level, made, short []float64
}

// run makes as much ice as possible, reserves the ice for later batches, and serves the rest as soon as there is demand. That is
// optimal: melting only shrinks reserves, and a gram short costs the same in any slot. ok reports whether every batch gets its
// ice. taken is the ice taken by batches, need scratch of length slots+1; detail is filled unless nil.
func (b *iceBin) run(taken, need []float64, detail *iceRun) (cost float64, ok bool) {
	slots := len(b.make)
	need[slots] = 0
	most := mostOf(b.capacity)
	for t := slots - 1; t >= 0; t-- {
		// need[t]: ice required at the end of slot t-1 for all batches from t on.
		if need[t+1] > most {
			return 0, false
		}
		need[t] = 0
		if want := need[t+1] + taken[t] + b.fixedAt(t) - b.make[t]; want > 0 {
			need[t] = want / b.keep
		}
	}
	if need[0] > mostOf(b.opening) {
		return 0, false
	}
	level := b.opening
	for t := 0; t < slots; t++ {
		have := level*b.keep + b.make[t] - taken[t] - b.fixedAt(t)
		serve := b.serve[t]
		if spare := have - need[t+1]; spare < serve {
			serve = max(0, spare)
			cost += (b.serve[t] - serve) * b.short
		}
		level = have - serve
		if level > b.capacity {
			level = b.capacity
		} else if level < 0 {
			level = 0 // rounding
		}
		if detail != nil {
			detail.level[t], detail.short[t] = level, b.serve[t]-serve
			detail.made[t] = max(0, b.make[t]-max(0, have-serve-b.capacity))
		}
	}
	return cost, true
}

// fixedAt is the ice taken in slot t by batches that are already fixed.
func (b *iceBin) fixedAt(t int) float64 {
	if b.fixedTake == nil {
		return 0
	}
	return b.fixedTake[t]
}

// exceeds reports whether g exceeds limit by more than rounding.
func exceeds(g, limit float64) bool { return g > mostOf(limit) }

// mostOf is a limit with rounding.
func mostOf(limit float64) float64 { return limit*(1+1e-9) + 1e-6 }

// iceTaken sets dst to the ice taken by batches, by slot.
func (p *problem) iceTaken(starts []batchStart, dst []float64) {
	clear(dst)
	for _, s := range starts {
		o := &p.opts[s.opt]
		if t := s.slot + o.iceSlots; t < p.slots {
			if p.whole {
				dst[t] += o.ice(s.g)
			} else {
				dst[t] += s.g * o.icePerG
			}
		}
	}
}

// subgradient sets price to a subgradient of run's cost: the cost of ice shortage caused by one more gram taken in each slot. need
// and r are those of the run.
func (b *iceBin) subgradient(need []float64, r *iceRun, price []float64) {
	slots := len(b.make)
	next := 0.0
	for t := slots - 1; t >= 0; t-- {
		switch {
		case r.short[t] > 1e-9:
			price[t] = b.short
		case r.made[t] < b.make[t]-1e-9:
			price[t] = 0
		default:
			price[t] = b.keep * next
		}
		next = price[t]
	}
	// Ice reserved for a later batch costs a gram in a glass at the time that the reserve begins.
	for t := 0; t+1 < slots; t++ {
		if held := need[t+1]; held > 1e-9 && r.level[t] <= held*(1+1e-9)+1e-9 {
			if !(t > 0 && need[t] > 1e-9 && r.level[t-1] <= need[t]*(1+1e-9)+1e-9) {
				price[t] = b.short
			}
			price[t+1] = price[t] / b.keep
		}
	}
}

// bottleneck is the slot before which more ice is needed than possible, and the limit there, for a run that failed.
func (b *iceBin) bottleneck(need []float64) (slot int, limit float64) {
	for t := len(need) - 1; t > 0; t-- {
		if exceeds(need[t], b.capacity) {
			return t, b.capacity
		}
	}
	return 0, b.opening
}

// needWeights sets weight to the derivative of the ice needed before slot from by the ice taken in each slot.
func (b *iceBin) needWeights(need []float64, from int, weight []float64) {
	clear(weight)
	w := 1.0
	for t := from; t < len(b.make) && need[t] > 0; t++ {
		w /= b.keep
		weight[t] = w
	}
}

// needBefore is the ice needed before slot from, by the weights of needWeights.
func (b *iceBin) needBefore(taken []float64, from int, weight []float64) float64 {
	sum := 0.0
	for t := from; t < len(taken) && weight[t] > 0; t++ {
		sum += weight[t] * (taken[t] + b.fixedAt(t) - b.make[t])
	}
	return sum
}
