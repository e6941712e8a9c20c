package planner

import (
	"math"
	"time"

	"hotday/models"
	"hotday/planner/ice"
)

// iceStream is one kind of ice: ice for drinks, from treated water, or ice-bath ice. They never mix.
type iceStream struct {
	opening, surplusG float64 // in the bin at the start; ice that did not fit
	capacity          float64
	keep              float64 // share of the ice left after a slot's melting
	makers            []iceMaker
	units             []mouldUnit
	slots             int
	togetherSlots     int // togetherWithin

	stir, serve []float64 // demand, g by slot
	bath        []float64 // of ice for drinks: what ice baths take of it, g by slot
	surge       []float64 // drinks' demand on a bad day, g by slot; nil: not considered
	countAgeH   float64
	loads       []load // chosen, by the slot they are emptied in
	run         iceRun
}

type iceMaker struct {
	row  int // of ice.makers
	code string
	g    []float64 // the most it makes, by slot
}

// load is one filling of a tray.
type load struct {
	unit       int
	fill, take int // slots; fill is −1 for a load already freezing
	fillAt     time.Time
	g          float64
}

// iceRun is the course of the bin, g by slot.
type iceRun struct {
	level, made, taken, short, lack, melted []float64 // made by machines, taken from trays, missing in drinks, missing for batches
	late                                    []int     // slot in which each load is emptied, given the room in the bin
}

// ownBinH is the size of the built-in bin of a machine for ice-bath ice, in hours of its output, where none is stated (an assumption).
const ownBinH = 12

// openIce sets up both kinds of ice as counted, with the machines and trays that make more.
func openIce(st *setting, air []float64) (drink, plain *iceStream) {
	r := st.req
	drink = newStream(st, air, true, r.Ice.OpeningG, r.Ice.BinG)
	plainBin := max(r.Ice.Plain.BinG, r.Ice.Plain.OpeningG)
	if r.Ice.Plain.BinG <= 0 { // none stated: trays keep a load where it froze, machines half a day's ice in a built-in bin
		for _, m := range r.Ice.Moulds {
			if !m.Treated {
				plainBin = max(plainBin, m.LoadG*float64(m.LoadsAtOnce))
			}
		}
		own := 0.0
		for _, m := range newStream(st, air, false, 0, 0).makers {
			if n := len(m.g); n > 0 {
				own += models.Sum(m.g) / float64(n) / st.h.hours() * ownBinH
			}
		}
		plainBin = max(plainBin, own)
	}
	return drink, newStream(st, air, false, r.Ice.Plain.OpeningG, plainBin)
}

func newStream(st *setting, air []float64, treated bool, opening, capacity float64) *iceStream {
	r, h := st.req, st.h
	s := &iceStream{opening: min(opening, capacity), surplusG: max(0, opening-capacity), capacity: capacity, slots: h.n, togetherSlots: int(togetherWithin / h.slot),
		keep: math.Pow(1-r.Ice.BinLossPctPH/100, h.hours()), stir: make([]float64, h.n), serve: make([]float64, h.n), bath: make([]float64, h.n)}
	tank := outages(r, "tank", "")
	for i, m := range r.Ice.Makers {
		if m.Treated != treated {
			continue
		}
		machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
		for _, p := range m.Curve {
			machine.Curve = append(machine.Curve, ice.Point(p))
		}
		out := outages(r, "maker", m.Code)
		if treated {
			out = append(out, tank...)
		}
		out = models.Merged(out)
		g := make([]float64, h.n)
		lastC, perDay := math.NaN(), 0.0
		for t := range g {
			if air[t] != lastC {
				lastC = air[t]
				perDay = machine.KgPerDay(lastC, r.Ice.InletWaterC)
			}
			g[t] = perDay * 1000 / 24 * h.hours() * (1 - h.sharedPart(out, t))
		}
		s.makers = append(s.makers, iceMaker{row: i, code: m.Code, g: g})
	}
	for i := range r.Ice.Moulds {
		if r.Ice.Moulds[i].Treated == treated {
			s.units = append(s.units, st.mouldUnits(i, treated, tank)...)
		}
	}
	return s
}

// sharedPart returns the share of slot t that the spans cover; they must not overlap.
func (h *horizon) sharedPart(spans []models.Span, t int) float64 {
	cell := models.Span{From: h.at(t), To: h.at(t + 1)}
	var gone time.Duration
	for _, s := range spans {
		if o := cell.Overlap(s); !o.Empty() {
			gone += o.To.Sub(o.From)
		}
	}
	return float64(gone) / float64(h.slot)
}

// wetShare returns the liquid share of this ice as scooped, weighted by what each source can make.
func (s *iceStream) wetShare(r *models.PlanRequest) float64 {
	var wet, all float64
	for _, m := range s.makers {
		g := 0.0
		for _, x := range m.g {
			g += x
		}
		wet += g * r.Ice.Makers[m.row].WetShare
		all += g
	}
	if all > 0 {
		return wet / all
	}
	for _, u := range s.units {
		wet += r.Ice.Moulds[u.row].WetShare / float64(len(s.units))
	}
	return wet
}

// earliest fills every tray as soon and as often as somebody can: the most that trays can make.
func (s *iceStream) earliest() []load {
	var out []load
	for k := range s.units {
		u := &s.units[k]
		from := 0
		if u.busyUntil > 0 {
			t := nextTrue(u.mayTake, u.busyUntil)
			if t >= s.slots {
				continue
			}
			out = append(out, load{unit: k, fill: -1, fillAt: u.underWayAt, take: t, g: u.underWayG})
			from = t
		}
		for {
			f := nextTrue(u.mayFill, from)
			t := nextTrue(u.mayTake, f+u.freezeSlots)
			if f >= s.slots || t >= s.slots {
				break
			}
			out = append(out, load{unit: k, fill: f, take: t, g: u.loadG})
			from = t
		}
	}
	return out
}

func nextTrue(b []bool, from int) int {
	for t := max(0, from); t < len(b); t++ {
		if b[t] {
			return t
		}
	}
	return len(b)
}
