package batch

import (
	"context"
	"fmt"
	"math"
)

// DefaultBudget is the work that Solve may spend where Options name none; it is counted, not timed, so that the answer
// is the same on any machine. One unit is about a microsecond of a small computer.
const DefaultBudget = 500_000

// Options steer Solve. The zero value is a good choice.
type Options struct {
	Seed   uint64  // of the random part of the search
	Budget int     // work units; 0 means DefaultBudget
	Warm   []Start // an earlier plan; starts that no longer fit are dropped
	// Stay is the share of the cost that keeping to Warm may cost beyond the best plan found, 0.005 say; 0 takes the best.
	Stay float64
	// PlanOnly spends no work on the bound beyond what helps to find plans: LowerBound may then be far below.
	PlanOnly bool
}

// Solve plans the instance. The answer breaks no rule, costs at most what doing nothing costs, and carries a lower bound;
// it depends on the instance, the seed and the budget only. It fails when the instance is bad (a *models.Error, see
// Validate) or when ctx ends first.
func Solve(ctx context.Context, in *Instance, opt Options) (*Result, error) {
	if err := in.Validate(); err != nil {
		return nil, err
	}
	p := compile(in)
	budget := opt.Budget
	if budget <= 0 {
		budget = DefaultBudget
	}
	s := newSolver(p, opt.Seed, budget)
	s.planOnly = opt.PlanOnly
	warm := p.fitting(opt.Warm)
	s.run(ctx, append([]batchStart(nil), warm...))
	s.stay(warm, opt.Stay)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r, ok := p.result(s.best)
	for !ok && len(s.best) > 0 { // rounding at a limit: one batch less always fits in the end
		s.best = s.best[:len(s.best)-1]
		r, ok = p.result(s.best)
	}
	if !ok {
		return nil, fmt.Errorf("doing nothing was refused: this is a fault of the solver")
	}
	r.Work = s.work()
	r.prove(s.bound)
	return r, nil
}

// run spends the budget.
func (s *solver) run(ctx context.Context, warm []batchStart) {
	if len(s.p.opts) == 0 {
		s.bound = s.cost
		return
	}
	if len(warm) > 0 {
		s.offer(warm)
	}
	wide := min(1, max(float64(len(s.p.opts))/12, float64((len(s.p.bevs)-1)*(len(s.p.bevs)-1))/9)) // the more there is to choose, the more plans there are to look through
	if days := s.p.days(); len(days) > 1 {
		s.roll(ctx, days, s.budget/5)
		s.anneal(ctx, s.budget*7/20, s.heat(0.1), append([]batchStart(nil), s.best...))
	} else if !s.large() {
		s.sketch(ctx, int(float64(s.budget)*(0.08+0.08*wide)))
	}
	if s.large() {
		s.quick(ctx)
		return
	}
	first := 0.4
	if s.p.slots > manySlots {
		first = 0.9 // prices come first where a plan of all beverages takes long
	}
	if s.planOnly {
		first = 0.15
	}
	root := s.root(ctx, s.work()+int(first*float64(s.budget-s.work())))
	if root.centre == nil {
		return
	}
	// Better plans and better bounds by turns: what helps gets more.
	all := &tree{open: []*node{root}}
	const turns = 3
	share, tired := 0.2+0.3*wide, false // of a turn, to plans
	for n := 0; n < turns && ctx.Err() == nil && !s.done(); n++ {
		part := (s.budget - s.work()) / (turns - n)
		until := s.work() + part
		if all.stuck || s.planOnly {
			share = 1
		}
		before := s.cost
		s.improve(ctx, root.centre, s.work()+int(share*float64(part)), 0.8*float64(n)/turns, tired)
		if before-s.cost > 1e-4*math.Abs(s.cost) {
			share, tired = 0.25+0.35*wide, false
		} else {
			tired = !tired
			share = max(0.1, share/2)
		}
		if s.cost-s.bound > 0.04*math.Abs(s.cost) {
			share = 0.25 + 0.35*wide
		}
		if !s.planOnly {
			s.search(ctx, all, until)
		}
	}
}

// fitting are the starts of an earlier plan that the instance still allows, in order, as far as they go together.
func (p *problem) fitting(starts []Start) []batchStart {
	var kept []batchStart
	for _, st := range starts {
		own, err := p.resolve([]Start{st})
		if err != nil {
			continue
		}
		o := &p.opts[own[0].opt]
		own[0].g = min(max(own[0].g, o.min), o.max)
		if next := append(kept[:len(kept):len(kept)], own[0]); p.allowed(next) == nil {
			kept = next
		}
	}
	return kept
}
