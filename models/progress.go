package models

import "time"

// Progress is the progress of a long-running job.
type Progress struct {
	Kind      string    `json:"kind"`
	Key       string    `json:"key"`
	Step      string    `json:"step"`    // of a plan: queued, facts, demand, batches, days or fixes; empty for other jobs
	Share     float64   `json:"share"`   // fraction done, 0 to 1
	Say       string    `json:"say"`     // current step, in words
	Problem   string    `json:"problem"` // why a plan failed: no_demand, invalid, too_long or internal; empty if it has not. A failure stays until the next plan is ordered or DELETE …/work/plan
	StartedAt time.Time `json:"started_at"`
	At        time.Time `json:"at"` // latest heartbeat
}

// Steps of a JobPlan, in their order.
const (
	StepQueued  = "queued"  // ordered, not begun
	StepFacts   = "facts"   // reading the facts
	StepDemand  = "demand"  // expected demand
	StepBatches = "batches" // choosing the batches
	StepDays    = "days"    // testing them on simulated days
	StepFixes   = "fixes"   // looking for fixes
)

// Problems of a JobPlan.
const (
	ProblemNoDemand = "no_demand" // neither a forecast nor the manager's numbers for these days
	ProblemInvalid  = "invalid"   // the set-up or the data for these days is invalid
	ProblemTooLong  = "too_long"  // out of time
	ProblemInternal = "internal"  // an error of the service's
)

// Event returns the data of the live event that tells the screens how far the job is. over: it has ended; revision is the plan that came
// of it, 0 for none.
func (p Progress) Event(over bool, revision int) map[string]any {
	data := map[string]any{"kind": p.Kind, "share": p.Share, "say": p.Say, "over": over}
	if p.Kind == JobPlan {
		data["step"], data["problem"], data["revision"] = p.Step, p.Problem, revision
	}
	return data
}

// heartbeatTimeout is how long a running job may stay silent before it counts as dead.
const heartbeatTimeout = 3 * time.Minute

// Alive reports whether the job still sends heartbeats.
func (p Progress) Alive(now time.Time) bool {
	return p.Problem == "" && now.Sub(p.At) < heartbeatTimeout
}
