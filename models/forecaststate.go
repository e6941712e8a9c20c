package models

import "time"

// ForecastState is what a site's past has taught the forecast, in bytes that only the planner reads.
type ForecastState struct {
	MadeAt  time.Time
	Through Date   // the newest day learnt from
	Learnt  []byte // learners, enough to forecast with
	Past    []byte // the days learnt from, to learn on without reading them all again
}
