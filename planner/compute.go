// Package planner turns a plan request into a plan: expected demand, the batches to brew and when, the ice to make, the water to
// draw and dose, the beans to take out, likely shortages and fixes for them. It is pure: no clock, no I/O, no globals; all chance
// comes from the request's seed, and ctx can only cancel.
//
// The files follow the data. compute.go runs the stages; each takes values and returns values:
//
//	setting.go, horizon.go   the request on its time slots
//	weather.go               air temperature by slot
//	recipe.go                each beverage's physics
//	icestream.go, icerun.go  ice for drinks and ice-bath ice: sources, tray loads, the bin over time
//	bathice.go               the ice baths of batches, and where their ice comes from
//	needs.go, margins.go     demand by slot, the cost of a missed gram, service levels
//	stockopening.go          stock and batches under way when the plan begins
//	hands.go, steps.go       people's time for prep, and the steps of a batch that need them
//	options.go, schedule.go  the batches (instance.go, rolling.go, adjust.go, levelsteps.go, polish.go, steady.go, limits.go: parts of that search)
//	choices.go, choicefit.go, choicetasks.go   batches left to the day
//	icequota.go, waterplan.go, watermix.go, beans.go, outlook.go
//	supplies.go, assemble.go, batchtasks.go, warnings*.go, shortcause.go
//	fixes.go, ideas*.go       fixes, each computed as a changed request
package planner

import (
	"cmp"
	"context"
	"time"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/cores"
	"hotday/planner/risk"
)

// Options steer Compute beyond the request. The zero value suits a person waiting for the plan.
type Options struct {
	NoChoices    bool // leave no batch to the day
	WithoutFixes bool // skip the fixes and the cost of moving each batch: benchmarks, previews
	// FixesIf reports whether the plan, computed without them, is to have fixes and the cost of moving each batch; nil: it is. They take
	// longer than the plan, and many plans of the background are dropped, as they say nothing new.
	FixesIf       func(models.Plan) bool
	Budget        int                // work units of the batch search; 0: its default, or an eighth of it with Before
	Polish        float64            // work of the polish on simulated days, in multiples of what suits a person waiting; 0: 1
	PlanOnly      bool               // skip the dual bound; Cost.LowerBound may then be far below the plan's cost
	Days          int                // Monte Carlo days; 0: simulatedDays
	Parallel      int                // goroutines at once; 0: as many as there are cores. The plan is the same with any number
	Before        []models.BatchTask // batches of the previous plan, kept where they still fit and cost almost the same
	ChoicesBefore []models.Choice    // of the previous plan; their figures stay where others save next to nothing
	BeforeAt      time.Time          // when it was made: it knows the batches begun by then; zero: unknown
	// Progress is called as Compute goes on, never twice at a time: with the step that it has reached, one of models' steps from StepDemand
	// on, and the fraction of the whole work that is done, 0 to 1. nil: nobody wants to know.
	Progress func(step string, share float64)
}

// Fractions of the work that are done when a step begins, measured on hot weekends.
const (
	shareBatches = 0.01
	shareDays    = 0.12
	shareOutlook = 0.22
	shareFixes   = 0.25
	shareTrials  = 0.35 // of the fixes
)

func (o *Options) parallel() int { return cmp.Or(o.Parallel, cores.Machine()) }

func (o *Options) report(step string, share float64) {
	if o.Progress != nil {
		o.Progress(step, share)
	}
}

// simulatedDays is the number of Monte Carlo days.
const simulatedDays = 1000

// Compute plans a request, fixes included. The same request and seed give the same plan to the last byte on any number of
// cores. An invalid request is a *models.Error with CodeInvalid; anything physically impossible is planned around, with
// a warning. If ctx ends first, Compute returns its error.
func Compute(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	return ComputeWith(ctx, r, Options{})
}

// ComputeWithoutFixes plans a request and warns, but computes no fixes.
func ComputeWithoutFixes(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	return ComputeWith(ctx, r, Options{WithoutFixes: true})
}

// ComputeWith is Compute with options.
func ComputeWith(ctx context.Context, r models.PlanRequest, o Options) (models.Plan, error) {
	if err := r.Validate(); err != nil {
		return models.Plan{}, err
	}
	res, err := compute(ctx, &r, o)
	if err != nil {
		return models.Plan{}, err
	}
	if o.WithoutFixes {
		return res.finish(), nil
	}
	if o.FixesIf != nil {
		if plan := res.finish(); !o.FixesIf(plan) {
			return plan, nil
		}
	}
	res.opt.report(models.StepFixes, shareFixes)
	if err := res.addOtherwise(ctx); err != nil {
		return models.Plan{}, err
	}
	if err := res.addFixes(ctx); err != nil {
		return models.Plan{}, err
	}
	return res.finish(), nil
}

// compute runs the stages in order. The request must be valid.
func compute(ctx context.Context, r *models.PlanRequest, o Options) (*result, error) {
	o.report(models.StepDemand, 0)
	st := newSetting(r, o)
	air, forecast, gaps := airBySlot(st)
	drink, plain := openIce(st, air)
	recipes := newRecipes(r, drink)
	needs := newNeeds(r, st.h, recipes)
	stock := stockAtStart(st, recipes)
	options, misfits := brewOptions(st, recipes, stock)
	kt := &kitchen{setting: st, air: air, forecast: forecast, airGaps: gaps, recipes: recipes, stock: stock, options: options, misfits: misfits}
	kt.hands = kt.handsFor(needs)

	o.report(models.StepBatches, shareBatches)
	bp, err := planBatches(ctx, kt, needs, drink, plain)
	if err != nil {
		return nil, err
	}
	o.report(models.StepDays, shareOutlook)
	water := planWater(bp)
	beans := planBeans(bp)
	outlook, err := simulate(ctx, bp, water)
	if err != nil {
		return nil, err
	}
	dr := &draft{brewPlan: bp, water: water, beans: beans, outlook: outlook}
	plan := dr.plan()
	return &result{draft: dr, plan: plan, warnings: dr.warn(&plan)}, nil
}

// kitchen is the state of the shop when the plan begins, and what its brewers can make. No stage changes it.
type kitchen struct {
	*setting
	air      []float64 // °C by slot
	forecast []bool    // by slot: air is forecast, not assumed
	airGaps  int       // hours without weather
	recipes  []*recipe // by beverage
	stock
	options []option
	misfits []misfit
	hands   hands
	least   float64 // min of each half hour that hands always leave for batches
}

// brewPlan is the schedule of batches on a kitchen: the demand at the levels chosen, the batches, and the ice for drinks they leave.
type brewPlan struct {
	*kitchen
	needs  *needs
	in     *batch.Instance
	result *batch.Result
	bound  float64 // dual bound of the instance's cost

	tried *risk.Days  // see daysToTry
	fits  *risk.Days  // see fitDays
	trial *risk.Trial // see newPolish

	batches []planned
	choices []choice // in order of the look
	drink   *iceStream
	cut     *cut       // by treated water and beans
	plain   *iceStream // for ice baths

	baths     []bath  // in order of time
	bathShare float64 // of the bath ice that the search takes from the ice for drinks
	unbathed  unbathed
}

// draft gathers the results of all stages, from which the plan, its warnings and the fixes are written.
type draft struct {
	*brewPlan
	water   *waterPlan
	beans   []beanDay
	outlook *risk.Result
}

// result is a plan with its warnings, before the two are put together.
type result struct {
	*draft
	plan     models.Plan // without warnings and summary
	warnings []warning   // most urgent first
}
