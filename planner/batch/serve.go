package batch

// serveEDF serves the beverage's demand from its lots, earliest expiry first, never short while a lot is at hand, and
// returns short, aging, disposal and carry credit together. It adds what the lots hold at the end of each slot to level.
// What is served from each lot and slot goes to served (lot by lot, len slots each), what is short to short, where not nil.
// lots come ordered by expiry and have their grams replaced by what is left.
func (b *beverage) serveEDF(lots []lot, level []float64, served [][]float64, short []float64) float64 {
	cost, head := 0.0, 0
	for t := range b.demand {
		for head < len(lots) && (lots[head].expires <= t || lots[head].g <= 0) {
			head++
		}
		need := b.demand[t]
		held := 0.0
		for k := head; k < len(lots); k++ {
			l := &lots[k]
			if l.ready > t || l.expires <= t {
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
	for k := range lots {
		if lots[k].g > 0 {
			cost += b.leftCost(&lots[k], len(b.demand)) * lots[k].g
		}
	}
	return cost
}

// leftCost is what a gram costs that the lot never serves: disposal, or the credit where it is good after the horizon.
func (b *beverage) leftCost(l *lot, slots int) float64 {
	if l.expires > slots {
		return -b.credit
	}
	return b.disposal
}

// iceRun is what happens in the bin under given ice taken by batches.
type iceRun struct {
	level, made, short []float64
}

// run makes ice whenever it may, keeps back what later batches need, and serves the rest as early as asked for: melting
// only shrinks what is kept, and a gram short costs the same in any slot, so no other way is cheaper. need is scratch of
// one more than the slots. It reports whether every batch gets its ice; detail is filled where not nil.
func (b *iceBin) run(taken, need []float64, detail *iceRun) (cost float64, ok bool) {
	slots := len(b.make)
	need[slots] = 0
	for t := slots - 1; t >= 0; t-- {
		// need[t]: ice wanted at the end of slot t-1 so that all batches from t on can have theirs.
		if beyond(need[t+1], b.capacity) {
			return 0, false
		}
		need[t] = 0
		if want := need[t+1] + taken[t] + b.before(t) - b.make[t]; want > 0 {
			need[t] = want / b.keep
		}
	}
	if beyond(need[0], b.opening) {
		return 0, false
	}
	level := b.opening
	for t := 0; t < slots; t++ {
		have := level*b.keep + b.make[t] - taken[t] - b.before(t)
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

// before is what batches that are settled already take in slot t.
func (b *iceBin) before(t int) float64 {
	if b.stirred == nil {
		return 0
	}
	return b.stirred[t]
}

// beyond says whether g is more than limit, rounding aside.
func beyond(g, limit float64) bool { return g > limit*(1+1e-9)+1e-6 }

// taken is the ice that batches take, by slot.
func (p *problem) taken(starts []batchStart, dst []float64) {
	clear(dst)
	for _, s := range starts {
		o := &p.opts[s.opt]
		if t := s.slot + o.iceSlots; t < p.slots {
			dst[t] += s.g * o.icePerG
		}
	}
}

// priced sets price to what one more gram taken in each slot would cost in short ice, a slope of run's cost in what is
// taken. need and r are those of the run.
func (b *iceBin) priced(need []float64, r *iceRun, price []float64) {
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
	// Where ice is kept back for a later batch, what that takes was worth a glass when it was first kept.
	for t := 0; t+1 < slots; t++ {
		if held := need[t+1]; held > 1e-9 && r.level[t] <= held*(1+1e-9)+1e-9 {
			if !(t > 0 && need[t] > 1e-9 && r.level[t-1] <= need[t]*(1+1e-9)+1e-9) {
				price[t] = b.short
			}
			price[t+1] = price[t] / b.keep
		}
	}
}

// lacking is the first slot before which more ice must be there than can be, and how much can.
func (b *iceBin) lacking(need []float64) (slot int, limit float64) {
	for t := len(need) - 1; t > 0; t-- {
		if beyond(need[t], b.capacity) {
			return t, b.capacity
		}
	}
	return 0, b.opening
}

// needed sets weight to what one more gram taken in each slot adds to the ice needed before slot from.
func (b *iceBin) needed(need []float64, from int, weight []float64) {
	clear(weight)
	w := 1.0
	for t := from; t < len(b.make) && need[t] > 0; t++ {
		w /= b.keep
		weight[t] = w
	}
}

// wanted is the ice needed before slot from by the slots that weight says.
func (b *iceBin) wanted(taken []float64, from int, weight []float64) float64 {
	sum := 0.0
	for t := from; t < len(taken) && weight[t] > 0; t++ {
		sum += weight[t] * (taken[t] + b.before(t) - b.make[t])
	}
	return sum
}
