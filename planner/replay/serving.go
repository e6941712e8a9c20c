package replay

import (
	"time"
)

// sharing is the scratch of one slot's serving. Things are the beverages in order, then serving ice.
type sharing struct {
	there, need, open []float64
}

// nearlyNothing is the part of a need that counts as nothing.
const nearlyNothing = 1e-9

// slot serves the drinks asked for in slot t with what is in the cold store and ice g of ice. Where something lacks, each drink
// gets the share of its scarcest thing, and what is left is shared again among those that lack nothing. It returns the ice used
// and whether ice lacked.
func (s *sharing) slot(l *living, t int, at time.Time, ice float64) (used float64, lacked bool) {
	things := len(l.s.Beverages) + 1
	s.there, s.need = zeros(s.there, things), zeros(s.need, things)
	s.open = zeros(s.open, len(l.s.Drinks))
	any := false
	for d := range s.open {
		s.open[d] = l.asked[d][t]
		any = any || s.open[d] > 0
		l.out.Asked += s.open[d]
		l.out.Coffee += s.open[d] * l.prices.coffee[d]
	}
	if !any {
		return 0, false
	}
	for i := range l.k.lots {
		s.there[l.k.lots[i].bev] += l.k.lots[i].g
	}
	s.there[things-1] = ice
	before := append([]float64(nil), s.there...)
	for range things + 1 {
		if !s.round(l) {
			break
		}
	}
	for d, x := range s.open {
		if x <= nearlyNothing*l.asked[d][t] {
			continue
		}
		l.missed[d][t] = x
		l.out.Missed += x
		l.out.Lost += x * l.prices.lost[d]
		l.takes(d, func(thing int, g float64) {
			if !s.left(thing, before) {
				l.lacks(thing, x*g)
				lacked = lacked || thing == things-1
			}
		})
	}
	for b := range l.s.Beverages {
		l.use(b, before[b]-s.there[b], at)
	}
	return ice - s.there[things-1], lacked
}

func (s *sharing) left(thing int, before []float64) bool {
	return s.there[thing] > nearlyNothing*(before[thing]+1)
}

// round serves each drink that lacks nothing its share once; false when nothing more can be served.
func (s *sharing) round(l *living) bool {
	clear(s.need)
	for d, x := range s.open {
		if s.able(l, d) {
			l.takes(d, func(thing int, g float64) { s.need[thing] += x * g })
		}
	}
	for i := range s.need {
		if s.need[i] > s.there[i] {
			s.need[i] = s.there[i] / s.need[i]
		} else {
			s.need[i] = 1
		}
	}
	served := false
	gone := make([]float64, len(s.there))
	for d, x := range s.open {
		if !s.able(l, d) {
			continue
		}
		part := 1.0
		l.takes(d, func(thing int, _ float64) { part = min(part, s.need[thing]) })
		l.takes(d, func(thing int, g float64) { gone[thing] += part * x * g })
		served = served || part > 0
		if s.open[d] = x * (1 - part); part == 1 {
			s.open[d] = 0
		}
	}
	for i := range gone {
		s.there[i] = max(0, s.there[i]-gone[i])
	}
	return served
}

// able reports whether some of everything is there for a drink.
func (s *sharing) able(l *living, d int) bool {
	ok := s.open[d] > 0
	l.takes(d, func(thing int, _ float64) { ok = ok && s.there[thing] > nearlyNothing })
	return ok
}

// takes calls back for each thing that a serving takes.
func (l *living) takes(d int, f func(thing int, g float64)) {
	x := &l.s.Drinks[d]
	for _, u := range x.Uses {
		f(l.bevOf(u.Beverage), u.G)
	}
	if x.ServingIceG > 0 {
		f(len(l.s.Beverages), x.ServingIceG)
	}
}

func (l *living) bevOf(code string) int {
	for i := range l.s.Beverages {
		if l.s.Beverages[i].Code == code {
			return i
		}
	}
	return -1
}

// use takes g of a beverage from the lots that perish first, and counts what their waiting costs.
func (l *living) use(bev int, g float64, at time.Time) {
	for i := range l.k.lots {
		b := &l.k.lots[i]
		if b.bev != bev || g <= 0 {
			continue
		}
		y := min(b.g, g)
		b.g -= y
		g -= y
		l.out.Aging += y * l.prices.aging[bev] * max(0, at.Sub(b.ready).Hours())
	}
}

func zeros(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}
