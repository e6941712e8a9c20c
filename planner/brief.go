package planner

import "hotday/planner/batch"

// Work of a brief plan.
const (
	briefBudget = batch.DefaultBudget / 50
	briefPolish = 0.02
	briefDays   = 100
)

// Brief is the options of a plan that must end soon: the same rules and close to the same plan before, but a short search, few simulated
// days, no choices and no fixes.
func (o Options) Brief() Options {
	o.Budget, o.Polish, o.Days = briefBudget, briefPolish, briefDays
	o.PlanOnly, o.NoChoices, o.WithoutFixes = true, true, true
	return o
}
