package planner

import (
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// setting is a request laid out on its time slots. Every stage reads it, none changes it.
type setting struct {
	req      *models.PlanRequest
	opt      Options
	h        *horizon
	loc      *time.Location
	q        say.Voice
	bevIndex map[string]int // by code
}

func newSetting(r *models.PlanRequest, o Options) *setting {
	h := newHorizon(r)
	st := &setting{req: r, opt: o, h: h, loc: h.loc, q: say.For(r.Site), bevIndex: map[string]int{}}
	for i := range r.Beverages {
		st.bevIndex[r.Beverages[i].Code] = i
	}
	return st
}
