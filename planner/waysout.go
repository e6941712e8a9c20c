package planner

import (
	"cmp"
	"context"
	"encoding/json"
	"runtime"
	"slices"
	"sync"

	"hotday/models"
)

// mostWaysOut is how many changed requests are computed for one plan.
const mostWaysOut = 8

// way is a changed request that may help against some warnings.
type way struct {
	action   string
	request  *models.PlanRequest
	change   json.RawMessage
	warnings []int // warnings that it was thought of for
	plan     *job
}

// findWaysOut computes changed requests against the warnings, as a replan that follows this plan would (same seed, from this plan's
// batches, which stay where that costs little), without a bound and without ways out of their own, and writes into each warning those
// that help, best first. What differs from this plan is so the change's own doing.
func (j *job) findWaysOut(ctx context.Context) error {
	ways, err := j.thinkOfWays()
	if err != nil {
		return err
	}
	if err := j.tryWays(ctx, ways); err != nil {
		return err
	}
	for i := range j.out.Warnings {
		w := &j.out.Warnings[i]
		for k := range ways {
			if ways[k].plan == nil || !slices.Contains(ways[k].warnings, i) {
				continue
			}
			e := ways[k].plan.effect(j.subj[i], w)
			if !helps(w, e) {
				continue
			}
			w.WaysOut = append(w.WaysOut, models.WayOut{Action: ways[k].action, Change: ways[k].change, Effect: e,
				Cost: ways[k].plan.out.Cost.LivedTotal - j.out.Cost.LivedTotal})
		}
		slices.SortStableFunc(w.WaysOut, func(a, b models.WayOut) int {
			return cmp.Or(cmp.Compare(a.Effect.ChancePct*a.Effect.Amount, b.Effect.ChancePct*b.Effect.Amount),
				cmp.Compare(a.Effect.ChancePct, b.Effect.ChancePct), cmp.Compare(a.Cost, b.Cost))
		})
	}
	return nil
}

// thinkOfWays collects the first idea for each warning, then the second, and so on, until there are enough. The same change
// thought of twice is one.
func (j *job) thinkOfWays() ([]*way, error) {
	ideas := make([][]idea, len(j.out.Warnings))
	for i := range j.out.Warnings {
		ideas[i] = j.ideas(&j.out.Warnings[i], &j.subj[i])
	}
	var ways []*way
	known := map[string]*way{}
	for round := 0; ; round++ {
		more := false
		for i := range ideas {
			if round >= len(ideas[i]) {
				continue
			}
			more = true
			x := ideas[i][round]
			changed, err := copyRequest(j.req)
			if err != nil {
				return nil, err
			}
			if !x.change(changed) || changed.Validate() != nil {
				continue
			}
			patch, err := patchBetween(j.req, changed)
			if err != nil {
				return nil, err
			}
			if w := known[string(patch)]; w != nil {
				w.warnings = append(w.warnings, i)
				continue
			}
			if len(ways) >= mostWaysOut || string(patch) == "{}" {
				continue
			}
			w := &way{action: x.action, request: changed, change: patch, warnings: []int{i}}
			known[string(patch)] = w
			ways = append(ways, w)
		}
		if !more || len(ways) >= mostWaysOut {
			return ways, nil
		}
	}
}

// tryWays plans each changed request, on as many cores as there are; each plan depends on its request alone.
func (j *job) tryWays(ctx context.Context, ways []*way) error {
	next := make(chan int, len(ways))
	for k := range ways {
		next <- k
	}
	close(next)
	errs := make([]error, len(ways))
	before := j.out.Batches // a way out begins from this plan: what differs is then its own doing
	var wg sync.WaitGroup
	for range min(len(ways), runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for k := range next {
				o := j.opt
				o.WithoutWaysOut, o.PlanOnly, o.Before = true, true, before
				ways[k].plan, errs[k] = plan(ctx, ways[k].request, o)
				ways[k].plan.forget()
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// forget lets go of what a way out is not asked for any more.
func (j *job) forget() {
	if j == nil {
		return
	}
	j.needs.path, j.needs.meanG, j.needs.paths = nil, nil, nil
	j.result, j.in, j.drink, j.plain, j.water = nil, nil, nil, nil, nil
	j.options, j.batches, j.air = nil, nil, nil
	j.out.Stock, j.out.Ice, j.out.Batches = nil, models.IcePlan{}, nil
}

// effect is what the changed plan says of the warning's subject.
func (j *job) effect(s subject, w *models.Warning) models.Effect {
	for i := range j.subj {
		if j.subj[i].key == s.key {
			return models.Effect{ChancePct: j.out.Warnings[i].ChancePct, Amount: j.out.Warnings[i].Amount}
		}
	}
	e := models.Effect{}
	if s.day < 0 { // no matter of chance: the warning is gone
		return e
	}
	list, i := j.outlook.Stocks, s.bev
	if w.Kind == models.WarnIceShort || w.Kind == models.WarnPlainIce {
		list, i = j.outlook.Flows, flowIce
	}
	if i >= 0 && i < len(list) && s.day < len(list[i].Days) {
		o := list[i].Days[s.day]
		e.ChancePct, e.Amount = tenth(o.Chance*100), o.Median/1000
	}
	return e
}

// helps reports whether a change is worth saying: chance or amount clearly lower and neither clearly higher.
func helps(w *models.Warning, e models.Effect) bool {
	lessChance := e.ChancePct < w.ChancePct-2 || (e.ChancePct == 0 && w.ChancePct > 0)
	lessAmount := e.Amount < w.Amount*0.95-1e-9
	moreChance := e.ChancePct > w.ChancePct+2
	moreAmount := e.Amount > w.Amount*1.05+1e-9
	return (lessChance && (!moreAmount || e.ChancePct*e.Amount < 0.9*w.ChancePct*w.Amount)) || (lessAmount && !moreChance)
}
