package batch

import (
	"context"
	"fmt"
	"math"
)

// DefaultBudget is the default work limit of Solve. Work is counted, not timed, so that results are the same on any machine.
// One unit is about a microsecond on a small computer.
const DefaultBudget = 500_000

// Options are the parameters of Solve. The zero value is a good choice.
type Options struct {
	Seed   uint64 // of the random search
	Budget int    // work units; 0 means DefaultBudget
	// Reserve is further work, units, spent only where the gap is over ReserveGapPct once the budget is.
	Reserve int
	Warm    []Start // warm start: an earlier plan; starts that are no longer feasible are dropped
	// Stay is the cost increase, as a share, accepted for keeping the starts of Warm, e.g. 0.005; 0 returns the cheapest plan.
	Stay float64
	// PlanOnly spends no work on the lower bound beyond what helps to find plans; the gap may then be large.
	PlanOnly bool
}

// ReserveGapPct is the gap, %, above which Solve spends Options.Reserve.
const ReserveGapPct = 2

// Solve plans the instance. The plan is feasible, costs at most what doing nothing costs, and has a lower bound; it depends
// only on the instance and the options. Errors: *models.Error for an invalid instance, see Validate, or the context's.
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
	s.planOnly, s.reserve = opt.PlanOnly, opt.Reserve
	warm := p.feasibleStarts(opt.Warm)
	if p.sized {
		s.budget -= int(sizesShare * float64(budget))
	}
	s.run(ctx, append([]batchStart(nil), warm...))
	if p.sized {
		s.budget = max(budget, s.work()+int(sizesShare*float64(budget)))
		s.chooseSizes(ctx, warm)
	}
	s.keepWarm(warm, opt.Stay)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r, ok := p.result(s.best)
	for !ok && len(s.best) > 0 { // infeasible by rounding at a limit: leave out batches until it fits
		s.best = s.best[:len(s.best)-1]
		r, ok = p.result(s.best)
	}
	if !ok {
		return nil, fmt.Errorf("solver bug: doing nothing is infeasible")
	}
	r.work = s.work()
	r.setBound(s.bound)
	return r, nil
}

// run spends the budget.
func (s *solver) run(ctx context.Context, warm []batchStart) {
	if len(s.p.opts) == 0 {
		s.bound = s.cost
		return
	}
	if len(warm) > 0 {
		s.tryStarts(s.p.repairLimits(warm))
	}
	breadth := min(1, max(float64(len(s.p.opts))/12, float64((len(s.p.bevs)-1)*(len(s.p.bevs)-1))/9)) // size of the search space: a larger one gets more of the budget
	if days := s.p.days(); len(days) > 1 {
		s.rollHorizon(ctx, days, s.budget/5)
		s.anneal(ctx, s.budget*7/20, s.initialTemp(0.1), append([]batchStart(nil), s.best...))
	} else if !s.tooLarge() {
		s.greedy(ctx, int(float64(s.budget)*(1+breadth)*s.greedyShare()))
	}
	if s.tooLarge() {
		s.solveLarge(ctx)
		return
	}
	first := 0.4
	if s.p.slots > longHorizon {
		first = 0.9 // where constructing a plan is slow, good prices come first
	}
	if s.planOnly {
		first = 0.15
	}
	root := s.root(ctx, s.work()+int(first*float64(s.budget-s.work())))
	if root.centre == nil {
		return
	}
	all := &tree{open: []*node{root}}
	s.alternate(ctx, root, all, breadth)
	if 100*(s.cost-s.bound) > ReserveGapPct*math.Abs(s.cost) && s.reserve > 0 {
		s.budget += s.reserve
		s.alternate(ctx, root, all, breadth)
	}
}

// alternate spends the budget by turns on the incumbent and on the bound; an effective search gets a larger share.
func (s *solver) alternate(ctx context.Context, root *node, all *tree, breadth float64) {
	const turns = 3
	share, restart := 0.2+0.3*breadth, false // share of a turn spent on the incumbent
	for n := 0; n < turns && ctx.Err() == nil && !s.done(); n++ {
		part := (s.budget - s.work()) / (turns - n)
		until := s.work() + part
		if all.stuck || s.planOnly {
			share = 1
		}
		before := s.cost
		s.improve(ctx, root.centre, s.work()+int(share*float64(part)), 0.8*float64(n)/turns, restart)
		if before-s.cost > 1e-4*math.Abs(s.cost) {
			share, restart = 0.25+0.35*breadth, false
		} else {
			restart = !restart
			share = max(0.1, share/2)
		}
		if s.cost-s.bound > 0.04*math.Abs(s.cost) {
			share = 0.4 + 0.3*breadth
			if s.p.brewer < 2 {
				share = 0.25 + 0.35*breadth
			}
		}
		if !s.planOnly {
			s.branchAndBound(ctx, all, until)
		}
	}
}

// feasibleStarts are the starts of an earlier plan that are still allowed, in order, without those in conflict with earlier ones.
func (p *problem) feasibleStarts(starts []Start) []batchStart {
	var kept []batchStart
	for _, st := range starts {
		resolved, err := p.resolve([]Start{st})
		if err != nil {
			continue
		}
		o := &p.opts[resolved[0].opt]
		resolved[0].g = min(max(resolved[0].g, o.min), o.max)
		if next := append(kept[:len(kept):len(kept)], resolved[0]); p.allowed(next) == nil {
			kept = next
		}
	}
	return kept
}

// greedyShare is the share of the budget, more in a large search space, for the first plan of a day. With one brewer annealing finds more
// than ruin and recreate, which has little room beside the plans of other beverages there.
func (s *solver) greedyShare() float64 {
	if s.p.brewer < 2 {
		return 0.08
	}
	return 0.05
}
