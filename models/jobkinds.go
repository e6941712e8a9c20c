package models

import "time"

// Kinds of job. The service puts them into the queue in the transaction of the data that asks for them; package jobs does them.
const (
	JobReplan          = "replan"           // compute the plan again (ReplanArgs); Key: the reason and its moment
	JobRefreshWarnings = "refresh_warnings" // look at the open warnings again; Key: a moment
	JobPublishNextDay  = "publish_next_day" // publish the prep sheet of the next service day; Key: that day
)

// ReplanArgs are the arguments of JobReplan. Zero From and Days: those of the latest plan. Now nil: the clock of the worker, or
// of the latest plan where that plan was given one of its own.
type ReplanArgs struct {
	From   Date       `json:"from,omitempty"`
	Days   int        `json:"days,omitempty"`
	Now    *time.Time `json:"now,omitempty"`
	Reason string     `json:"reason"` // for a person: "stock was counted"
}
