package risk

import (
	"context"
	"slices"
)

// Choice is a batch whose size is decided when somebody looks at the stock of its beverage.
type Choice struct {
	Stock, Lot int       // the batch: index of its stock, and of its lot in the stock
	Slot       int       // of the look, before the slot's sales and before the batch takes its ice
	Below      []float64 // g, rising: the first option whose figure the amount seen is below is taken, else the last option
	Shares     []float64 // size of each option, as a share of the lot's; one more than Below
	Costs      []float64 // money: of making each option, for Input.Prices
}

// option returns the option taken when g are seen.
func (c *Choice) option(g float64) int {
	for k, below := range c.Below {
		if g < below {
			return k
		}
	}
	return len(c.Shares) - 1
}

// Prices are money for the account of each run.
type Prices struct {
	Missed   []float64 // of a sale missed for want of a stock, by drink
	NoIce    []float64 // of a sale missed for want of ice, by drink
	Disposal []float64 // of a gram that expires within the horizon or is left at its end, by stock
}

// Decided is the outcome of a choice.
type Decided struct {
	Seen    []float64 // g seen, by run
	Options []float64 // share of the runs in which each option was taken
}

// look takes the choices of a slot. What is seen is the beverage that can be sold then, and that in batches begun before.
func (s *simulation) look(t int) {
	for k := range s.in.Choices {
		c := &s.in.Choices[k]
		if c.Slot != t {
			continue
		}
		d := &s.result.Decided[k]
		own := -1
		for i, l := range s.lots {
			switch {
			case l.stock == c.Stock && l.at == c.Lot:
				own = i
			case l.stock == c.Stock && l.Until > t && (l.From <= t || l.Begun < t):
				for r := range s.n {
					d.Seen[r] += s.left[i][r]
				}
			}
		}
		if own < 0 {
			continue
		}
		s.size[own] = make([]float64, s.n)
		for r, g := range d.Seen {
			o := c.option(g)
			d.Options[o] += 1 / float64(s.n)
			s.size[own][r] = c.Shares[o]
			s.left[own][r] *= c.Shares[o]
			if s.result.Costs != nil {
				s.result.Costs[r] += c.Costs[o]
			}
		}
	}
}

func (s *simulation) openChoices() {
	s.size = make([][]float64, len(s.lots))
	for i := range s.in.Choices {
		c := &s.in.Choices[i]
		s.result.Decided = append(s.result.Decided, Decided{Seen: make([]float64, s.n), Options: make([]float64, len(c.Shares))})
	}
	if s.in.Prices != nil {
		s.result.Costs = make([]float64, s.n)
	}
}

// sizeOf is the size of a lot in a run as a share of its planned size.
func (s *simulation) sizeOf(lot, run int) float64 {
	if s.size[lot] == nil {
		return 1
	}
	return s.size[lot][run]
}

// charge adds the cost of what is left of a lot, by run.
func (s *simulation) charge(lot int) {
	if s.result.Costs == nil {
		return
	}
	price := s.in.Prices.Disposal[s.lots[lot].stock]
	for r, g := range s.left[lot] {
		s.result.Costs[r] += price * g
	}
}

// chargeMissed adds the cost of missed sales in a run.
func (s *simulation) chargeMissed(run, drink int, servings float64, noIce bool) {
	if s.result.Costs == nil {
		return
	}
	price := s.in.Prices.Missed[drink]
	if noIce {
		price = s.in.Prices.NoIce[drink]
	}
	s.result.Costs[run] += servings * price
}

// Options simulates each option of choice k on these days, the other choices decided as they say: the amounts seen, and the cost by option
// and run. Up to the look all options are one simulation. The only error is the context's.
func (d *Days) Options(ctx context.Context, in Input, k int) (seen []float64, costs [][]float64, err error) {
	s := newSimulation(in, d.seed, d.n, d)
	look := min(max(in.Choices[k].Slot, 0), in.Slots)
	if err := s.run(ctx, 0, look); err != nil {
		return nil, nil, err
	}
	for option := range in.Choices[k].Shares {
		f := s.fork()
		f.in.Choices = slices.Clone(in.Choices)
		c := &f.in.Choices[k]
		c.Below, c.Shares, c.Costs = nil, c.Shares[option:option+1], c.Costs[option:option+1]
		if err := f.run(ctx, look, in.Slots); err != nil {
			return nil, nil, err
		}
		f.finish()
		seen, costs = f.result.Decided[k].Seen, append(costs, f.result.Costs)
	}
	return seen, costs, nil
}

// fork returns a copy, on drawn days, that runs on by itself.
func (s *simulation) fork() *simulation {
	f := *s
	f.active, f.customers = slices.Clone(s.active), slices.Clone(s.customers)
	f.own, f.scratch = slices.Clone(s.own), slices.Clone(s.scratch)
	f.left, f.size, f.flow, f.missed, f.noIce = copies(s.left), copies(s.size), copies(s.flow), copies(s.missed), copies(s.noIce)
	f.output = make([][][]float64, len(s.output))
	for i := range s.output {
		f.output[i] = copies(s.output[i])
	}
	f.stocks, f.flows = ledgers(s.stocks), ledgers(s.flows)
	f.aging, f.waste = slices.Clone(s.aging), slices.Clone(s.waste)
	f.slot = slotServing{}
	f.result.Stocks, f.result.Flows, f.result.LotLeft = slices.Clone(s.result.Stocks), slices.Clone(s.result.Flows), copies(s.result.LotLeft)
	for i := range f.result.Stocks {
		f.result.Stocks[i].Days = slices.Clone(s.result.Stocks[i].Days)
	}
	for i := range f.result.Flows {
		f.result.Flows[i].Days = slices.Clone(s.result.Flows[i].Days)
	}
	f.result.Decided = slices.Clone(s.result.Decided)
	for i := range f.result.Decided {
		d := &f.result.Decided[i]
		d.Seen, d.Options = slices.Clone(d.Seen), slices.Clone(d.Options)
	}
	f.result.Costs = slices.Clone(s.result.Costs)
	return &f
}

func copies(rows [][]float64) [][]float64 {
	out := make([][]float64, len(rows))
	for i, r := range rows {
		out[i] = slices.Clone(r)
	}
	return out
}

func ledgers(list []ledger) []ledger {
	out := slices.Clone(list)
	for i := range out {
		l := &out[i]
		l.day, l.all, l.firstDay, l.firstAll = slices.Clone(l.day), slices.Clone(l.all), slices.Clone(l.firstDay), slices.Clone(l.firstAll)
	}
	return out
}
