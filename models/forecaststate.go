package models

import "time"

// ForecastState is a site's fitted forecast, serialised by the planner.
type ForecastState struct {
	MadeAt  time.Time
	Through Date   // last day of the training data
	Learnt  []byte // fitted models, enough to forecast with
	Past    []byte // training data, so that a refit need not read the whole history
}
