package models

import "time"

// Kinds of job. The part of the program that asks for a job and the part that does it share only these names.
const (
	JobPublish = "publish" // the prep sheet of the next service day; key: that day
	JobWatch   = "watch"   // look at what runs short; key: the instant of the look
	JobReplan  = "replan"  // plan the rest of the day anew; key: the instant it runs
	JobReplay  = "replay"  // live days of the past again under each way of preparing; key: the instant somebody asked
	JobRefit   = "refit"   // let the forecast learn from the day before; key: the service day that begins
)

// JobDeliver tells a webhook what happened; key: the delivery and the number of the attempt.
const JobDeliver = "deliver"

// replanAfter gathers what is said within a minute into one replan.
const replanAfter = time.Minute

// ReplanJob is the replan that something said at an instant asks for. All that is said within the same minute asks for the same
// job, which runs when that minute is over.
func ReplanJob(site string, at time.Time) Job {
	run := at.UTC().Truncate(replanAfter).Add(replanAfter)
	return Job{Kind: JobReplan, Site: site, Key: run.Format(time.RFC3339), RunAt: run}
}

// markTolerance is the part of a batch's grams by which it may differ from the plan without asking for another.
const markTolerance = 0.05

// AsksForReplan reports whether a mark on a task changes what is possible: a task skipped or taken back, ice counted, a batch
// made with other grams than planned or started at another time than its slot.
func (m TaskMark) AsksForReplan(t Task) bool {
	switch {
	case m.State == Skipped, m.State == Due, m.IceG != nil:
		return true
	case t.Batch == nil:
		return false
	case m.BeverageG != nil:
		off := *m.BeverageG - t.Batch.BeverageG
		return max(off, -off) > markTolerance*t.Batch.BeverageG
	case m.State == Started:
		off := m.At.Sub(t.At)
		return max(off, -off) > 15*time.Minute
	}
	return false
}

// PlanOrder is the argument of a JobReplan that a caller of POST …/plans asked for without waiting. A replan without arguments
// is for the days of the latest plan.
type PlanOrder struct {
	From Date       `json:"from"`
	Days int        `json:"days"`
	Now  *time.Time `json:"now,omitempty"` // the plan's clock; nil: when the job runs
}
