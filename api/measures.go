package api

import (
	"time"

	"hotday/models"
)

// Measures hears of what a Server does, for metrics.
type Measures interface {
	// Request hears of an answered request. route is its pattern, "" if there is no such address.
	Request(method, route string, status int, took time.Duration)
	// StreamOpened hears of an open live stream, and that it was closed.
	StreamOpened() (closed func())
	// Planned hears of a plan that was computed for a request.
	Planned(by string, plan models.Plan, took time.Duration)
}

// byRequest is who asked for the plans of this package.
const byRequest = "request"

// unmeasured is Measures that nobody reads.
type unmeasured struct{}

func (unmeasured) Request(string, string, int, time.Duration)       {}
func (unmeasured) StreamOpened() func()                             { return func() {} }
func (unmeasured) Planned(_ string, _ models.Plan, _ time.Duration) {}
