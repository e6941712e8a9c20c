package models

import "time"

// QueueState is how the queue of jobs stands.
type QueueState struct {
	Due     int // could run now
	Later   int // scheduled, or to be tried again
	Running int
	GivenUp int // used up their attempts, and are still kept

	OldestDue      time.Duration // since when the job that has been due longest could have run, without the night's learning and tidying, which may wait; 0: none is due
	LongestRunning time.Duration // of the current attempts; 0: none runs
}

// Outcomes of an attempt of a job, in metrics and traces.
const (
	OutcomeDone       = "done"        // with its effect, though the commit can still fail
	OutcomeFailed     = "failed"      // tried again later
	OutcomeTimedOut   = "timed_out"   // tried again later
	OutcomeHandedBack = "handed_back" // given up at shutdown, for the next start
)
