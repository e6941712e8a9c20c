// Package planner turns a plan request into a plan: how much will be asked for, which batches to brew and when, how much ice
// to make, which water to draw and beans to pull, what may run short and what would help. It is pure: no clock, no I/O, no
// globals, chance only from the request's seed; ctx only aborts.
package planner

import (
	"context"
	"time"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/risk"
	"hotday/planner/say"
)

// Options steer Compute beside the request. The zero value is what a person who waits for the plan wants.
type Options struct {
	WithoutWaysOut bool               // leave out what would help, and what moving each batch would cost: benchmarks, replans that nobody waits for
	Budget         int                // work units of the batch search; 0: its default, half of it with Before
	PlanOnly       bool               // seek no bound: its figures may be far from the plan's cost
	Days           int                // simulated days; 0: simulatedDays
	Before         []models.BatchTask // the batches of the plan before: kept where they still fit and cost almost the same
}

// simulatedDays is how often the plan is lived through.
const simulatedDays = 1000

// Compute makes the plan of a request, ways out included. The same request and seed give the same plan to the last byte, on
// any number of cores. A request that breaks a rule is a *models.Error of CodeInvalid; what is physically impossible is
// planned around and warned of. When ctx ends first its error is returned.
func Compute(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	return ComputeWith(ctx, r, Options{})
}

// ComputeWithoutWaysOut makes the plan and its warnings, without computing what would help against them.
func ComputeWithoutWaysOut(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	return ComputeWith(ctx, r, Options{WithoutWaysOut: true})
}

// ComputeWith is Compute with options.
func ComputeWith(ctx context.Context, r models.PlanRequest, o Options) (models.Plan, error) {
	if err := r.Validate(); err != nil {
		return models.Plan{}, err
	}
	j, err := plan(ctx, &r, o)
	if err != nil {
		return models.Plan{}, err
	}
	if !o.WithoutWaysOut {
		if err := j.findWaysOut(ctx); err != nil {
			return models.Plan{}, err
		}
	}
	return j.out, nil
}

// job is one plan being made. Each stage reads what the stages before it left here.
type job struct {
	req *models.PlanRequest
	opt Options
	h   *horizon
	loc *time.Location
	q   say.Voice

	bevIndex map[string]int
	air      []float64 // °C by slot
	airGaps  int       // hours without weather
	recipes  []*recipe // by beverage
	needs    *needs

	opening []opening
	thrown  []thrown
	kept    []keptBatch
	options []option
	misfits []misfit

	in      *batch.Instance
	result  *batch.Result
	bound   float64
	batches []planned
	drink   *iceStream
	plain   *iceStream
	water   *waterPlan
	beans   []beanDay
	outlook *risk.Result

	out                  models.Plan
	iceChance, iceAmount float64   // of the likeliest shortage of drink ice: %, kg
	iceMore              float64   // kg, to plan a way out for
	iceAt                int       // its slot
	subj                 []subject // of each warning, for its ways out
}

// plan runs the stages in order. The request has been validated.
func plan(ctx context.Context, r *models.PlanRequest, o Options) (*job, error) {
	j := &job{req: r, opt: o, h: newHorizon(r), bevIndex: map[string]int{}}
	j.loc, j.q = j.h.loc, say.For(r.Site)
	j.weather()
	j.newIce()
	for i := range r.Beverages {
		b := &r.Beverages[i]
		j.bevIndex[b.Code] = i
		j.recipes = append(j.recipes, newRecipe(b, &r.Site, r.Ice.IceTempC, j.drink.wetShare(r)))
	}
	j.needs = newNeeds(r, j.h, j.recipes)
	j.underWay()
	j.openStock()
	j.buildOptions()
	if err := j.schedule(ctx); err != nil {
		return nil, err
	}
	j.bathIce()
	j.planWater()
	j.planBeans()
	if err := j.simulate(ctx); err != nil {
		return nil, err
	}
	j.assemble()
	return j, nil
}
