package planner

import (
	"fmt"
	"math"
	"slices"

	"hotday/models"
)

// Reasons for running out of a beverage.
const (
	byNobody    = "nobody"
	byHold      = "hold"
	byTime      = "time"
	byStore     = "store"
	byIce       = "ice"
	byBathIce   = "bath_ice"
	byBrewers   = "brewers"
	byChance    = "chance"
	byCost      = "cost"
	byAttention = "attention"
	byWater     = "water"
	byBeans     = "beans"
	byHands     = "hands"
	byBaths     = "baths"
)

// cause is why a beverage runs out.
type cause struct {
	why    string
	reason string
	fields []string // of the request
}

// shortage checks which limit binds.
type shortage struct {
	dr      *draft
	bev, at int     // beverage, slot
	g       float64 // missing
	field   string  // of the beverage
	options []*option
	from    int // slots [from, at] are checked
}

// lookBackH is how long before a shortage a batch to prevent it would be made, h.
const lookBackH = 4

// shortCause finds why g g of a beverage are missing from a slot on: the first limit that binds.
func (dr *draft) shortCause(bev, at int, g float64, planned bool) cause {
	s := &shortage{dr: dr, bev: bev, at: at, g: g, field: fmt.Sprintf("beverages.%d", bev), from: max(0, at-int(lookBackH/dr.h.hours()))}
	for k := range dr.options {
		if dr.options[k].bev == bev {
			s.options = append(s.options, &dr.options[k])
		}
	}
	switch {
	case len(s.options) == 0:
		return cause{dr.q.Say("why.nobody"), byNobody, []string{"brewers", s.field}}
	case dr.holdSlots(bev) < 1:
		return cause{dr.q.Say("why.hold"), byHold, []string{s.field + ".hold_h", "site.max_hold_h"}}
	case !planned:
		return cause{dr.q.Say("why.level"), byChance, []string{"demand", "service_level_pct"}}
	}
	for _, rule := range []func() (cause, bool){s.tooEarly, s.noSupply, s.storeFull, s.noIceYet, s.noBrewer, s.noIceLater, s.iceElsewhere} {
		if b, binds := rule(); binds {
			return b
		}
	}
	return cause{dr.q.Say("why.cost"), byCost, []string{"brewers", s.field + ".disposal_cost_per_kg", "costs.short_factor"}}
}

// tooEarly: no batch that anybody can start would be ready by then.
func (s *shortage) tooEarly() (cause, bool) {
	dr := s.dr
	earliest, withHands := dr.h.n, dr.h.n
	var lacks lack
	for _, o := range s.options {
		for t, may := range o.may {
			if !may && !o.held[t] {
				continue
			}
			withHands = min(withHands, t+o.readySlots)
			if dr.in.SlotStarts[t] < 1 || !may {
				continue
			}
			if work, bath := dr.lacksAlone(o, t); work || bath {
				if t+o.readySlots <= s.at {
					lacks.count(work, bath)
				}
				continue
			}
			earliest = min(earliest, t+o.readySlots)
			break
		}
	}
	fields := append([]string{"site.setup_min", s.field + ".ready_min"}, s.outageFields()...)
	switch {
	case earliest <= s.at:
		return cause{}, false
	case withHands <= s.at && lacks.any():
		return s.lackCause(lacks), true
	case withHands <= s.at:
		return cause{dr.q.Say("why.hands"), byAttention, []string{"site.starts_per_slot", "attention"}}, true
	case earliest >= dr.h.n:
		return cause{dr.q.Say("why.time"), byTime, fields}, true
	}
	return cause{dr.q.Say("why.first_ready", "at", dr.when(dr.h.at(earliest))), byTime, fields}, true
}

// supplyShare is the share of a shortage above which what supplies take of it is its cause.
const supplyShare = 0.25

// noSupply: treated water or beans limit how much is made, and that is much of what is missing.
func (s *shortage) noSupply() (cause, bool) {
	dr := s.dr
	switch {
	case dr.cut.bev[s.bev] < max(worthSayingG, supplyShare*s.g):
	case dr.cut.byWhat[s.bev] == models.WarnWaterShort:
		return cause{dr.q.Say("why.water"), byWater, []string{"water.make_l_per_h", "water.tank_l"}}, true
	case dr.cut.byWhat[s.bev] == models.WarnBeansShort:
		return cause{dr.q.Say("why.beans"), byBeans, []string{fmt.Sprintf("coffees.%d.lots", dr.coffeeOf(s.bev))}}, true
	}
	return cause{}, false
}

// smallest returns the smallest batch of any brewer, g.
func (s *shortage) smallest() float64 {
	g := math.Inf(1)
	for _, o := range s.options {
		g = min(g, o.lo)
	}
	return g
}

func (s *shortage) storeFull() (cause, bool) {
	room := math.Inf(1)
	for t := s.from; t <= s.at; t++ {
		room = min(room, s.dr.req.Site.StoreG-s.dr.result.Store[t])
	}
	return cause{s.dr.q.Say("why.store", "mass", s.dr.q.GlanceMass(s.dr.req.Site.StoreG)), byStore, []string{"site.store_g"}}, room < s.smallest()+1
}

// noIceYet: there is not enough ice for another batch by then.
func (s *shortage) noIceYet() (cause, bool) { return s.noIce(s.at + 1) }

// noIceLater: another batch would leave too little ice for those later in the day.
func (s *shortage) noIceLater() (cause, bool) {
	return s.noIce(s.dr.h.daySlots()[s.dr.h.dayOf(s.at)][1])
}

// iceElsewhere: on a day that may use all of it, another batch would take ice from drinks that earn more by it.
func (s *shortage) iceElsewhere() (cause, bool) {
	perG := s.dr.recipes[s.bev].icePerG()
	if perG <= 0 || s.dr.outlook == nil || flowIce >= len(s.dr.outlook.Levels) {
		return cause{}, false
	}
	low := math.Inf(1)
	for t := s.from; t < s.dr.h.daySlots()[s.dr.h.dayOf(s.at)][1]; t++ {
		low = min(low, s.dr.outlook.Levels[flowIce][t].P10)
	}
	return cause{s.dr.q.Say("why.ice_elsewhere"), byIce, []string{"ice.opening_g", s.field + ".ice_share"}}, low < perG*s.smallest()
}

func (s *shortage) noIce(until int) (cause, bool) {
	perG := s.dr.recipes[s.bev].icePerG()
	why, reason, fields := "why.ice", byIce, []string{"ice.opening_g", s.field + ".ice_share"}
	if bath := s.dr.bathIcePerG(s.options[0]); bath > 0 {
		perG += bath
		why, reason, fields = "why.bath_ice", byBathIce, []string{"ice.opening_g", "ice.plain.opening_g", s.field + ".bath"}
	}
	ice := perG * s.smallest()
	low := math.Inf(1)
	for t := s.from; t < until; t++ {
		low = min(low, s.dr.drink.run.level[t])
	}
	return cause{s.dr.q.Say(why), reason, fields}, ice > 0 && s.dr.in.Ice != nil && low < ice
}

// noBrewer: the brewers are busy, or nobody is free to start them, or has time for a batch, or every bath is in use.
func (s *shortage) noBrewer() (cause, bool) {
	free, hands := false, false
	var lacks lack
	for _, o := range s.options {
		for t := max(0, s.from-o.readySlots); t+o.readySlots <= s.at && t < s.dr.h.n; t++ {
			if (o.may[t] || o.held[t]) && s.dr.brewerFree(o, t) {
				free = true
				if s.dr.startsIn(t) >= s.dr.in.SlotStarts[t] || !o.may[t] {
					continue
				}
				work, bath := s.dr.shortOf(o, t, -1)
				hands = hands || !work && !bath
				lacks.count(work, bath)
			}
		}
	}
	switch {
	case free && !hands && lacks.any():
		return s.lackCause(lacks), true
	case free:
		return cause{s.dr.q.Say("why.more_hands"), byAttention, []string{"site.starts_per_slot", "attention"}}, !hands
	}
	var codes, fields []string
	for _, o := range s.options {
		codes = append(codes, s.dr.req.Brewers[o.brewer].Code)
		fields = append(fields, fmt.Sprintf("brewers.%d", o.brewer))
	}
	return cause{s.dr.q.Say("why.brewers", "brewers", s.dr.q.Listed(codes)), byBrewers, append(fields, s.outageFields()...)}, true
}

// lack counts the starts that lack time of people or a bath.
type lack struct{ work, bath int }

func (l *lack) count(work, bath bool) {
	switch {
	case work:
		l.work++
	case bath:
		l.bath++
	}
}

func (l *lack) any() bool { return l.work+l.bath > 0 }

func (s *shortage) lackCause(l lack) cause {
	if l.bath > l.work {
		return cause{s.dr.q.Say("hands.why_baths"), byBaths, []string{"site.baths", s.field + ".bath"}}
	}
	return cause{s.dr.q.Say("hands.why"), byHands, []string{"site.people", "site.serve_min", "site.work_min"}}
}

// lacksAlone reports what an option's start lacks even without other batches.
func (bp *brewPlan) lacksAlone(o *option, t int) (work, bath bool) {
	for _, u := range o.workAt(t) {
		work = work || u.Min > bp.in.WorkMin[u.Window]+1e-6
	}
	for k := t + o.bathFrom; k < min(t+o.bathTo, len(bp.in.Baths)); k++ {
		bath = bath || bp.in.Baths[k] < 1
	}
	return work, bath
}

// outageFields names the outages of the brewers that make the beverage.
func (s *shortage) outageFields() []string {
	var out []string
	for i, o := range s.dr.req.Outages {
		if o.Kind == "brewer" && slices.ContainsFunc(s.options, func(x *option) bool { return s.dr.req.Brewers[x.brewer].Code == o.Code }) {
			out = append(out, fmt.Sprintf("outages.%d", i))
		}
	}
	return out
}

func (bp *brewPlan) brewerFree(o *option, t int) bool {
	for i := range bp.batches {
		p := &bp.batches[i]
		if q := &bp.options[p.option]; q.brewer == o.brewer && t < p.slot+q.busySlots && p.slot < t+o.busySlots {
			return false
		}
	}
	return true
}

func (bp *brewPlan) startsIn(t int) int {
	n := 0
	for i := range bp.batches {
		if bp.batches[i].slot == t {
			n++
		}
	}
	return n
}
