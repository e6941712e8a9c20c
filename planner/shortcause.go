package planner

import (
	"fmt"
	"hotday/planner/say"
	"math"
	"slices"
	"strings"
)

// Reasons for a beverage to be short.
const (
	byNobody    = "nobody"
	byHold      = "hold"
	byTime      = "time"
	byStore     = "store"
	byIce       = "ice"
	byBrewers   = "brewers"
	byChance    = "chance"
	byCost      = "cost"
	byAttention = "attention"
)

// blame is what keeps a beverage from being there.
type blame struct {
	why    string
	reason string
	fields []string // of the request
}

// shortage asks one rule after the other whether it binds.
type shortage struct {
	j       *job
	bev, at int    // beverage, slot
	field   string // of the beverage
	options []*option
	from    int // slots [from, at] are looked at
}

// lookBackH is how long before a shortage a batch against it would be made.
const lookBackH = 4

// shortCause finds what keeps a beverage from being there at a slot: the first rule that binds.
func (j *job) shortCause(bev, at int, planned bool) blame {
	s := &shortage{j: j, bev: bev, at: at, field: fmt.Sprintf("beverages.%d", bev), from: max(0, at-int(lookBackH/j.h.hours()))}
	for k := range j.options {
		if j.options[k].bev == bev {
			s.options = append(s.options, &j.options[k])
		}
	}
	switch {
	case len(s.options) == 0:
		return blame{j.q.Say("why.nobody"), byNobody, []string{"brewers", s.field}}
	case j.holdSlots(bev) < 1:
		return blame{j.q.Say("why.hold"), byHold, []string{s.field + ".hold_h", "site.max_hold_h"}}
	case !planned:
		return blame{j.q.Say("why.level", "level", say.Digits(100*j.needs.level(bev, j.h.dayOf(at)), 0)), byChance, []string{"demand", "service_level_pct"}}
	}
	for _, rule := range []func() (blame, bool){s.tooEarly, s.storeFull, s.noIce, s.noBrewer} {
		if b, binds := rule(); binds {
			return b
		}
	}
	return blame{j.q.Say("why.cost"), byCost, []string{"brewers", s.field + ".disposal_cost_per_kg", "costs.short_factor"}}
}

// tooEarly: no batch that people can start is ready by then.
func (s *shortage) tooEarly() (blame, bool) {
	j := s.j
	earliest, withHands := j.h.n, j.h.n
	for _, o := range s.options {
		for t, may := range o.may {
			if !may {
				continue
			}
			withHands = min(withHands, t+o.readySlots)
			if j.in.SlotStarts[t] > 0 {
				earliest = min(earliest, t+o.readySlots)
				break
			}
		}
	}
	fields := append([]string{"site.setup_min", s.field + ".ready_min"}, s.outageFields()...)
	switch {
	case earliest <= s.at:
		return blame{}, false
	case withHands <= s.at:
		return blame{j.q.Say("why.hands"), byAttention, []string{"site.starts_per_slot", "attention"}}, true
	case earliest >= j.h.n:
		return blame{j.q.Say("why.time"), byTime, fields}, true
	}
	return blame{j.q.Say("why.first_ready", "at", j.when(j.h.at(earliest))), byTime, fields}, true
}

// smallest is the smallest batch of any brewer, g.
func (s *shortage) smallest() float64 {
	g := math.Inf(1)
	for _, o := range s.options {
		g = min(g, o.lo)
	}
	return g
}

func (s *shortage) storeFull() (blame, bool) {
	room := math.Inf(1)
	for t := s.from; t <= s.at; t++ {
		room = min(room, s.j.req.Site.StoreG-s.j.result.Store[t])
	}
	return blame{s.j.q.Say("why.store", "mass", s.j.q.About(s.j.req.Site.StoreG)), byStore, []string{"site.store_g"}}, room < s.smallest()+1
}

func (s *shortage) noIce() (blame, bool) {
	ice := s.j.recipes[s.bev].icePerG() * s.smallest()
	low := math.Inf(1)
	for t := s.from; t <= s.at; t++ {
		low = min(low, s.j.drink.run.level[t])
	}
	return blame{s.j.q.Say("why.ice"), byIce, []string{"ice.opening_g", s.field + ".ice_share"}}, ice > 0 && s.j.in.Ice != nil && low < ice
}

// noBrewer: the brewers have no time left, or nobody to start them.
func (s *shortage) noBrewer() (blame, bool) {
	free, hands := false, false
	for _, o := range s.options {
		for t := max(0, s.from-o.readySlots); t+o.readySlots <= s.at && t < s.j.h.n; t++ {
			if o.may[t] && s.j.brewerFree(o, t) {
				free = true
				hands = hands || s.j.startsIn(t) < s.j.in.SlotStarts[t]
			}
		}
	}
	if free {
		return blame{s.j.q.Say("why.more_hands"), byAttention, []string{"site.starts_per_slot", "attention"}}, !hands
	}
	var codes, fields []string
	for _, o := range s.options {
		codes = append(codes, s.j.req.Brewers[o.brewer].Code)
		fields = append(fields, fmt.Sprintf("brewers.%d", o.brewer))
	}
	return blame{s.j.q.Say("why.brewers", "brewers", strings.Join(codes, s.j.q.Say("sheet.lots"))), byBrewers, append(fields, s.outageFields()...)}, true
}

// outageFields are the outages of the brewers that make the beverage.
func (s *shortage) outageFields() []string {
	var out []string
	for i, o := range s.j.req.Outages {
		if o.Kind == "brewer" && slices.ContainsFunc(s.options, func(x *option) bool { return s.j.req.Brewers[x.brewer].Code == o.Code }) {
			out = append(out, fmt.Sprintf("outages.%d", i))
		}
	}
	return out
}

func (j *job) brewerFree(o *option, t int) bool {
	for i := range j.batches {
		p := &j.batches[i]
		if q := &j.options[p.option]; q.brewer == o.brewer && t < p.slot+q.busySlots && p.slot < t+o.busySlots {
			return false
		}
	}
	return true
}

func (j *job) startsIn(t int) int {
	n := 0
	for i := range j.batches {
		if j.batches[i].slot == t {
			n++
		}
	}
	return n
}
