package planner

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"slices"
	"sync"

	"hotday/models"
	"hotday/planner/cores"
	"hotday/planner/margin"
	"hotday/planner/risk"
)

// maxFixTrials is how many changed requests are computed for one plan.
const maxFixTrials = 8

// mostFixes is how many fixes a warning names.
const mostFixes = 3

// way is a changed request that may help against some warnings.
type way struct {
	action    string
	equipment bool
	request   *models.PlanRequest
	change    json.RawMessage
	warnings  []int // indices of the warnings it is meant to help
	trial     *trial
}

// trial is what a plan of the changed request says of the warnings.
type trial struct {
	warnings []warning
	outlook  *risk.Result
	cost     float64
}

// addFixes plans changed requests against the warnings and adds to each warning those that help, best first. A changed request is
// planned as a replan after the change would be: same seed, starting from this plan's batches, which stay where that costs little,
// without a dual bound and without fixes of its own. Any difference from this plan is then due to the change.
func (res *result) addFixes(ctx context.Context) error {
	ways, err := res.candidates()
	if err != nil {
		return err
	}
	if err := res.try(ctx, ways); err != nil {
		return err
	}
	for i := range res.warnings {
		w := &res.warnings[i]
		can, needs := []models.Fix{}, []models.Fix(nil) // without equipment, and with
		for _, x := range ways {
			if x.trial == nil || !slices.Contains(x.warnings, i) {
				continue
			}
			f := models.Fix{Action: x.action, Change: x.change, Effect: x.trial.effect(w), Cost: x.trial.cost - res.plan.Expected.Cost.Total}
			switch {
			case !helps(&w.Warning, &f):
			case x.equipment && res.soon(&w.Warning):
				needs = append(needs, f)
			default:
				can = append(can, f)
			}
		}
		rankFixes(&w.Warning, can)
		rankFixes(&w.Warning, needs)
		w.Fixes = append(can, needs...)
		w.Fixes = w.Fixes[:min(len(w.Fixes), mostFixes)]
	}
	return nil
}

// soon reports whether a warning is of today or tomorrow: too soon for equipment, so that other fixes come first.
func (res *result) soon(w *models.Warning) bool {
	site := &res.req.Site
	return site.ServiceDayOf(w.At) <= site.ServiceDayOf(res.req.Now).AddDays(1)
}

// candidates collects the first idea for each warning, then the second, and so on, up to maxFixTrials changes. The same change
// suggested twice is one candidate.
func (res *result) candidates() ([]*way, error) {
	ideas := make([][]idea, len(res.warnings))
	for i := range res.warnings {
		ideas[i] = res.ideas(&res.warnings[i])
		if res.soon(&res.warnings[i].Warning) {
			slices.SortStableFunc(ideas[i], func(a, b idea) int {
				switch {
				case a.equipment == b.equipment:
					return 0
				case a.equipment:
					return 1
				}
				return -1
			})
		}
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
			changed, err := copyRequest(res.req)
			if err != nil {
				return nil, err
			}
			if !x.change(changed) || changed.Validate() != nil {
				continue
			}
			patch, err := patchBetween(res.req, changed)
			if err != nil {
				return nil, err
			}
			if w := known[string(patch)]; w != nil {
				w.warnings = append(w.warnings, i)
				continue
			}
			if len(ways) >= maxFixTrials || string(patch) == "{}" {
				continue
			}
			w := &way{action: x.action, equipment: x.equipment, request: changed, change: patch, warnings: []int{i}}
			known[string(patch)] = w
			ways = append(ways, w)
		}
		if !more || len(ways) >= maxFixTrials {
			return ways, nil
		}
	}
}

// try plans each changed request, on as many cores as there are; each plan depends on its request alone.
func (res *result) try(ctx context.Context, ways []*way) error {
	next := make(chan int, len(ways))
	for k := range ways {
		next <- k
	}
	close(next)
	errs := make([]error, len(ways))
	o := res.opt
	o.WithoutFixes, o.PlanOnly, o.Polish, o.Progress = true, true, 0, nil
	o.Before, o.ChoicesBefore, o.BeforeAt = res.plan.Batches, res.plan.Choices, res.plan.ComputedAt
	var wg sync.WaitGroup
	var mu sync.Mutex
	tried := 0
	for range min(len(ways), cores.Machine()) {
		wg.Go(func() {
			for k := range next {
				changed, err := compute(ctx, ways[k].request, o)
				mu.Lock()
				tried++
				res.opt.report(models.StepFixes, shareTrials+(1-shareTrials)*float64(tried)/float64(len(ways)))
				mu.Unlock()
				if errs[k] = err; err == nil {
					ways[k].trial = &trial{warnings: changed.warnings, outlook: changed.outlook, cost: changed.plan.Expected.Cost.Total + addedCost(res.req, ways[k].request, &res.plan.Expected, &changed.plan.Expected)}
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	return errors.Join(errs...)
}

// effect is the outcome of the changed plan for the subject of a warning.
func (x *trial) effect(w *warning) models.Effect {
	for i := range x.warnings {
		if x.warnings[i].key == w.key {
			return models.Effect{ChancePct: x.warnings[i].ChancePct, Amount: x.warnings[i].Amount}
		}
	}
	e := models.Effect{}
	if w.day < 0 { // not a matter of chance: the warning has gone
		return e
	}
	list, i := x.outlook.Stocks, w.bev
	if w.Kind == models.WarnIceShort || w.Kind == models.WarnPlainIce {
		list, i = x.outlook.Flows, flowIce
	}
	if i >= 0 && i < len(list) && w.day < len(list[i].Days) {
		o := list[i].Days[w.day]
		e.ChancePct, e.Amount = tenth(o.Chance*100), o.Median/1000
	}
	return e
}

// A fix changes something noticeable if the chance falls by this many points, or if this share of the amount is left.
const (
	noticeablePct = 5
	noticeable    = 0.8
	leastRisk     = 1.0 // %: below it, 1,000 days cannot tell a chance from none
)

// helps reports whether a change is worth suggesting: a chance or an amount noticeably lower, neither clearly higher, and no higher cost
// unless the risk is cut to half.
func helps(w *models.Warning, f *models.Fix) bool {
	e := f.Effect
	lessChance := e.ChancePct <= w.ChancePct-noticeablePct || e.ChancePct < leastRisk && w.ChancePct >= leastRisk
	lessAmount := e.Amount <= noticeable*w.Amount && w.Amount > 0
	moreChance := e.ChancePct > w.ChancePct+2
	moreAmount := e.Amount > w.Amount*1.05+1e-9 && e.ChancePct*e.Amount > 0.9*w.ChancePct*w.Amount
	return (lessChance && !moreAmount || lessAmount && !moreChance) && (f.Cost < leastMoney || cutsRisk(w, e))
}

// leastMoney is a difference in expected cost that is none, minor units.
const leastMoney = 50

// cutsRisk reports whether a fix cuts the expected shortage, or the chance of a warning without an amount, to half or less.
func cutsRisk(w *models.Warning, e models.Effect) bool {
	if w.Amount <= 0 {
		return e.ChancePct <= w.ChancePct/2
	}
	return e.ChancePct*e.Amount <= w.ChancePct*w.Amount/2
}

// rankFixes puts the fixes that cut the risk to half first, the one with the lowest cost at the top, then the others by the risk that is
// left.
func rankFixes(w *models.Warning, fixes []models.Fix) {
	rank := func(f *models.Fix) int {
		if cutsRisk(w, f.Effect) {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(fixes, func(a, b models.Fix) int {
		if c := cmp.Compare(rank(&a), rank(&b)); c != 0 {
			return c
		}
		if rank(&a) == 0 {
			return cmp.Or(cmp.Compare(a.Cost, b.Cost), cmp.Compare(a.Effect.ChancePct, b.Effect.ChancePct))
		}
		return cmp.Or(cmp.Compare(a.Effect.ChancePct*a.Effect.Amount, b.Effect.ChancePct*b.Effect.Amount), cmp.Compare(a.Cost, b.Cost))
	})
}

// addedCost is what a changed request costs beside its plan, minor units: the ice that it buys, and the drinks that it no longer offers.
func addedCost(was, changed *models.PlanRequest, then, now *models.Expected) float64 {
	cost, p := bagsCost(was, changed), margin.Of(&was.Setup)
	for j := range was.Drinks {
		cost += max(0, then.Drinks[j].Demanded-now.Drinks[j].Demanded) * p.MissedOfMade(j, margin.Beverage)
	}
	return cost
}
