package batch

import (
	"fmt"
	"math"
)

// verify checks independently that the plan is feasible and its figures are consistent: starts, lots, serving, store, ice, cost,
// and the bound below the objective.
func verify(in *Instance, r *Result) error {
	want, err := Evaluate(in, r.Starts)
	if err != nil {
		return err
	}
	tol := 1e-6 * max(1, math.Abs(r.Objective))
	switch {
	case math.IsNaN(r.Objective) || math.IsNaN(r.LowerBound) || math.IsNaN(r.GapPct):
		return fmt.Errorf("a figure is not a number")
	case r.Objective < want.Objective-tol:
		return fmt.Errorf("objective %g: the starts cost %g", r.Objective, want.Objective)
	case r.LowerBound > r.Objective+tol:
		return fmt.Errorf("lower bound %g is above the objective %g", r.LowerBound, r.Objective)
	case math.Abs(r.GapPct-100*(r.Objective-r.LowerBound)/max(1, math.Abs(r.Objective))) > 1e-6:
		return fmt.Errorf("gap_pct %g does not follow from objective %g and bound %g", r.GapPct, r.Objective, r.LowerBound)
	}
	c := &verification{p: compile(in), r: r, cost: Cost{}}
	for _, step := range []func() error{c.starts, c.lots, c.demand, c.store, c.ice} {
		if err := step(); err != nil {
			return err
		}
	}
	if math.Abs(c.cost.Total()-r.Objective) > tol {
		return fmt.Errorf("objective %g: the plan costs %g", r.Objective, c.cost.Total())
	}
	return nil
}

type verification struct {
	p        *problem
	r        *Result
	resolved []batchStart
	cost     Cost
}

const gramTol = 1e-4 // for rounding

func (c *verification) starts() (err error) {
	if c.resolved, err = c.p.resolve(c.r.Starts); err != nil {
		return err
	}
	for _, s := range c.resolved {
		o := &c.p.opts[s.opt]
		c.cost.Batches += o.fixed
		c.cost.Making += s.g * c.p.bevs[o.bev].unit
	}
	return nil
}

func (c *verification) lots() error {
	opening, batches := map[[2]int]bool{}, map[int]bool{}
	for k, l := range c.r.Lots {
		b := &c.p.bevs[l.Beverage]
		g, ready, expires, early := 0.0, 0, 0, 0
		if l.Start >= 0 {
			s := c.resolved[l.Start]
			o := &c.p.opts[s.opt]
			if batches[l.Start] || o.bev != l.Beverage {
				return fmt.Errorf("lot %d is a duplicate or not of start %d", k, l.Start)
			}
			batches[l.Start] = true
			g, ready = s.g, s.slot+o.ready
			expires = ready + b.hold
			early = min(ready-s.slot, c.p.in.Brewers[o.brewer].Options[c.option(s.opt)].EarlySlots)
		} else {
			key := [2]int{l.Beverage, l.Opening}
			if opening[key] {
				return fmt.Errorf("lot %d: opening lot %d is a duplicate", k, l.Opening)
			}
			opening[key] = true
			o := c.p.in.Beverages[l.Beverage].Opening[l.Opening]
			g, ready, expires, early = o.G, o.ReadySlot, o.ExpiresSlot, min(o.EarlySlots, o.ReadySlot)
		}
		if l.G != g || l.ReadySlot != ready || l.ExpiresSlot != expires {
			return fmt.Errorf("lot %d: %g g for slots %d to %d, want %g g for %d to %d", k, l.G, l.ReadySlot, l.ExpiresSlot, g, ready, expires)
		}
		if l.EarlySlots != early {
			return fmt.Errorf("lot %d: %d slots in the store before it is ready, want %d", k, l.EarlySlots, early)
		}
		left := g
		for t, y := range l.ServedG {
			if y < -gramTol || (y > 0 && (t < ready || t >= expires)) {
				return fmt.Errorf("lot %d serves %g g in slot %d, is usable in slots %d to %d", k, y, t, ready, expires)
			}
			left -= y
			c.cost.Aging += y * b.aging * float64(t-ready)
		}
		if math.Abs(left-l.LeftG) > gramTol || left < -gramTol {
			return fmt.Errorf("lot %d: %g g left, says %g", k, left, l.LeftG)
		}
		if l.Carried {
			c.cost.Carry += left * b.credit
		} else {
			c.cost.Waste += left * b.disposal
		}
		if l.Carried != (expires > b.carry) {
			return fmt.Errorf("lot %d expires in slot %d of %d, carried is %t", k, expires, c.p.slots, l.Carried)
		}
	}
	if len(batches) != len(c.resolved) {
		return fmt.Errorf("%d lots for %d starts", len(batches), len(c.resolved))
	}
	for i := range c.p.bevs {
		for _, l := range c.p.bevs[i].opening {
			if !opening[[2]int{i, l.opening}] {
				return fmt.Errorf("beverage %d: opening lot %d is missing", i, l.opening)
			}
		}
	}
	return nil
}

// option is the index of an option in its brewer's list.
func (c *verification) option(k int) int {
	n := 0
	for j := range k {
		if c.p.opts[j].brewer == c.p.opts[k].brewer {
			n++
		}
	}
	return n
}

func (c *verification) demand() error {
	short := 0.0
	for i := range c.p.bevs {
		b := &c.p.bevs[i]
		for t, d := range b.demand {
			got := c.r.Short[i][t]
			if got < -gramTol {
				return fmt.Errorf("beverage %d slot %d: short %g", i, t, got)
			}
			short += got
			c.cost.Short += got * b.short
			for _, l := range c.r.Lots {
				if l.Beverage == i {
					got += l.ServedG[t]
				}
			}
			if math.Abs(got-d) > gramTol {
				return fmt.Errorf("beverage %d slot %d: served and short add up to %g, not %g", i, t, got, d)
			}
		}
	}
	if math.Abs(short-c.r.ShortG) > gramTol*float64(1+c.p.slots) {
		return fmt.Errorf("short_g %g, the slots say %g", c.r.ShortG, short)
	}
	return nil
}

func (c *verification) store() error {
	left := make([]float64, len(c.r.Lots))
	for k, l := range c.r.Lots {
		left[k] = l.G
	}
	for t := 0; t < c.p.slots; t++ {
		held := 0.0
		for k, l := range c.r.Lots {
			left[k] -= l.ServedG[t]
			if l.ReadySlot-l.EarlySlots <= t && t < l.ExpiresSlot {
				held += left[k]
			}
		}
		if held > c.p.store[t]*(1+1e-9)+gramTol {
			return fmt.Errorf("slot %d ends with %g g in a store of %g g", t, held, c.p.store[t])
		}
		if math.Abs(held-c.r.Store[t]) > gramTol*float64(1+len(left)) {
			return fmt.Errorf("slot %d ends with %g g in the store, says %g", t, held, c.r.Store[t])
		}
	}
	return nil
}

func (c *verification) ice() error {
	b := c.p.ice
	if b == nil {
		return nil
	}
	u := c.r.Ice
	taken := make([]float64, c.p.slots)
	c.p.iceTaken(c.resolved, taken)
	level, short := b.opening, 0.0
	for t := range taken {
		level = level*b.keep + u.MadeG[t] - (b.serve[t] - u.ShortG[t]) - taken[t]
		switch {
		case math.Abs(level-u.LevelG[t]) > gramTol*(1+1e-9*level) || level < -gramTol || level > b.capacity+gramTol+1e-9*b.capacity:
			return fmt.Errorf("slot %d ends with %g g of ice in a bin of %g g, says %g", t, level, b.capacity, u.LevelG[t])
		case u.MadeG[t] < -gramTol || u.MadeG[t] > b.make[t]+gramTol:
			return fmt.Errorf("slot %d makes %g g of ice of at most %g", t, u.MadeG[t], b.make[t])
		case u.ShortG[t] < -gramTol || u.ShortG[t] > b.serve[t]+gramTol:
			return fmt.Errorf("slot %d is %g g of ice short of %g", t, u.ShortG[t], b.serve[t])
		}
		level = u.LevelG[t]
		short += u.ShortG[t]
	}
	c.cost.IceShort = short * b.short
	if math.Abs(short-c.r.IceShortG) > gramTol*float64(1+c.p.slots) {
		return fmt.Errorf("ice_short_g %g, the slots say %g", c.r.IceShortG, short)
	}
	return nil
}
