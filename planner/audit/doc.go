// Package audit checks a plan and its prep sheets against the request that they were made from, the way a careful reader would who has
// only the three documents: by its own calendar of who is there, its own balances of water, ice, beans and coffee, and its own arithmetic
// of strength and temperature. It shares no code with the planner, so that an error there cannot hide itself here.
//
// It serves tests; the program does not contain it. Each rule is a function over the documents (rules.go lists them) and reports
// findings. Where a document leaves open what a rule needs, such as how much an ice machine made, the rule gives it the benefit of the
// doubt: a finding is always an error in the plan, the sheets, or the rule.
package audit
