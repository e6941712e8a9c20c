package models

import "time"

// Kinds of job: the names that those who enqueue jobs and those who run them share.
const (
	JobPublish = "publish" // publish the prep sheet of the next service day; key: that day
	JobWatch   = "watch"   // check for shortages; key: the time of the check, none after a change
	JobReplan  = "replan"  // replan the rest of the day; no key
	JobPlan    = "plan"    // compute the plan of a PlanOrder; key: chance, as each order counts
	JobReplay  = "replay"  // replay past days with each method; key: the time of the request
	JobRefit   = "refit"   // refit the forecast with the day before; key: the service day that begins
	JobWeather = "weather" // fetch the weather forecast; key: when it is due
	JobBackup  = "backup"  // back the whole database up; no site; key: the time it was due
	JobTidy    = "tidy"    // remove what is no longer kept; no site; key: the time it was due
	JobDeliver = "deliver" // attempt a webhook delivery; key: the delivery and the number of the attempt
	JobMail    = "mail"    // attempt to send a message; key: the message and the number of the attempt
	JobPush    = "push"    // attempt to send a notification; key: the notification and the number of the attempt
	JobReview  = "review"  // send the weekly review; key: the service day on which it is sent
)

// JobLine is one of the lines in which jobs wait, each with workers of its own.
type JobLine int

// Lines of jobs.
const (
	LineAsked   JobLine = iota // what a person waits for, or a mark, a count or an outage calls for
	LineDay                    // publishing and watching
	LineNight                  // learning and tidying
	LineOutside                // webhooks, mail, notifications and weather, so that slow receivers delay no plan
)

// Line returns the line of the job and its priority there, of which the lowest number goes first: a night of refits delays no plan that
// somebody ordered, publishing goes before watching, and learning before tidying.
func (j Job) Line() (line JobLine, priority int) {
	switch j.Kind {
	case JobPlan, JobReplan, JobReplay:
		return LineAsked, 1
	case JobPublish, JobReview:
		return LineDay, 2
	case JobWatch:
		return LineDay, 3
	case JobRefit:
		return LineNight, 3
	case JobBackup, JobTidy:
		return LineNight, 4
	case JobDeliver, JobMail, JobPush:
		return LineOutside, 1
	case JobWeather:
		return LineOutside, 3
	}
	return LineDay, 4
}

// OnePending reports whether at most one job of this kind waits at a site. One that has not begun sees all that is stored before it begins,
// so a second one would see nothing more.
func (j Job) OnePending() bool { return j.Kind == JobWatch || j.Kind == JobReplan }

// replanDelay is the window whose changes share one replan, and one check.
const replanDelay = time.Minute

// ReplanJob returns the replan for a change at an instant. It runs at the end of the minute, or as soon as the replan that runs then has
// ended; changes until it begins share it.
func ReplanJob(site string, at time.Time) Job {
	return atNextMinute(JobReplan, site, at)
}

// WatchJob is the check for shortages after a change at an instant, shared as replans are.
func WatchJob(site string, at time.Time) Job {
	return atNextMinute(JobWatch, site, at)
}

func atNextMinute(kind, site string, at time.Time) Job {
	return Job{Kind: kind, Site: site, RunAt: at.UTC().Truncate(replanDelay).Add(replanDelay)}
}

// markTolerance is the relative deviation from a batch's planned grams that needs no replan.
const markTolerance = 0.05

// NeedsReplan reports whether a mark calls for a replan: the task was skipped or reset to due, ice was
// counted, what is left was seen, a temperature was read, or a batch was made with other grams than planned or started more than 15 minutes
// off its time.
func (m TaskMark) NeedsReplan(t Task) bool {
	switch {
	case m.State == Skipped, m.State == Due, m.IceG != nil, m.LeftG != nil, m.TempC != nil, m.Corrects:
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

// PlanOrder is the argument of a JobPlan: a plan that somebody asked for. A later order of a site replaces one that is still being
// computed.
type PlanOrder struct {
	From      Date       `json:"from"`
	Days      int        `json:"days"`
	Now       *time.Time `json:"now,omitempty"` // the plan's clock; nil: when the job runs
	OrderedAt time.Time  `json:"ordered_at"`
}
