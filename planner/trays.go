package planner

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/ice"
)

// leastLoadG is the least ice that trays are emptied for during the day, g: smaller trays are emptied together, and what is smaller even
// so waits for opening or closing.
const leastLoadG = 1000

// mouldUnit is the trays of a set that are filled and emptied together; it freezes one load after the other.
type mouldUnit struct {
	row         int // of ice.moulds
	code        string
	loads       int     // trays in it
	loadG       float64 // of all of them
	freeze      time.Duration
	freezeSlots int
	mayFill     []bool // by slot
	mayTake     []bool
	out         []bool // the freezer is out of order, by slot
	busyUntil   int    // slot in which a load under way is frozen; 0 without one
	underWayG   float64
	underWayAt  time.Time
}

// mouldUnits returns the units of a tray set, with what is in them; none where its ice takes longer to freeze than a plan covers.
func (st *setting) mouldUnits(row int, treated bool, tank []models.Span) []mouldUnit {
	r, h := st.req, st.h
	m := &r.Ice.Moulds[row]
	f := ice.Mould{ThicknessMM: m.ThicknessMM, Geometry: ice.Geometry(m.Geometry), Sides: m.Sides, WaterC: r.Ice.InletWaterC, AirC: m.FreezerAirC,
		HWm2K: m.HWM2K, MassKg: m.LoadG / 1000 * float64(m.LoadsAtOnce), FreezerHeatW: m.FreezerHeatW}.Freeze()
	if math.IsInf(f.Minutes, 0) || math.IsNaN(f.Minutes) || f.Minutes > 60*24*60 {
		return nil
	}
	freeze := time.Duration(math.Ceil(f.Minutes)) * time.Minute
	broken := models.Merged(outages(r, "mould", m.Code))
	together := min(m.LoadsAtOnce, int(math.Ceil(leastLoadG/m.LoadG-1e-9)))
	small := float64(together)*m.LoadG < leastLoadG-1e-9
	mayFill, mayTake, out := make([]bool, h.n), make([]bool, h.n), make([]bool, h.n)
	work := models.Minutes(r.Site.Work().Tray)
	watered := 0 // the first slot by which somebody can have filled brewing water
	if treated {
		watered = st.firstWater()
	}
	for t := range mayTake {
		at := h.at(t)
		mayTake[t] = h.peopleFor(at, work) && (!small || h.atEdge(at))
		frozen := models.Span{From: at, To: at.Add(freeze)}
		cell := models.Span{From: at, To: h.at(t + 1)}
		mayFill[t] = mayTake[t] && t >= watered && !models.Touches(broken, frozen) && !(treated && models.Touches(tank, cell))
		out[t] = models.Touches(broken, cell)
	}
	var units []mouldUnit
	for left := m.LoadsAtOnce; left > 0; {
		n := together
		if left < 2*together { // the rest goes with the last
			n = left
		}
		left -= n
		units = append(units, mouldUnit{row: row, code: m.Code, loads: n, loadG: float64(n) * m.LoadG, freeze: freeze, freezeSlots: h.ceilSlots(freeze.Minutes()),
			mayFill: mayFill, mayTake: mayTake, out: out})
	}
	st.fillUnderWay(units, m)
	return units
}

// firstWater is the first slot after one in which somebody can fill a container of brewing water, 0 where some has been filled already.
func (st *setting) firstWater() int {
	for i := range st.req.UnderWay {
		if st.req.UnderWay[i].Kind == models.TaskWaterDraw {
			return 0
		}
	}
	for t, room := range st.fillRoom() {
		if room >= st.req.Site.Work().Fill {
			return t + 1
		}
	}
	return st.h.n
}

// fillUnderWay puts the loads under way into the units of a tray set.
func (st *setting) fillUnderWay(units []mouldUnit, m *models.MouldSet) {
	k := 0
	for _, f := range st.loadsUnderWay(m) {
		for rest := f.g; rest > 0.5 && k < len(units); k++ {
			u := &units[k]
			g := rest
			if rest > u.loadG+0.5*m.LoadG { // of several units
				g = u.loadG
			}
			rest -= g
			u.underWayAt, u.underWayG = f.at, g
			u.busyUntil = max(1, st.h.slotFrom(f.at.Add(u.freeze)))
		}
	}
}

// filling is trays filled at an instant.
type filling struct {
	at    time.Time
	g     float64
	loads int
}

// loadsUnderWay returns what is in the trays of a set, oldest first: each emptying takes the oldest loads, as many as its weight says. A
// refill (ice_refill) empties as many as it fills, unless an ice_take of the same task says how much it emptied.
func (st *setting) loadsUnderWay(m *models.MouldSet) []filling {
	var filled, emptied []filling
	own := map[string]bool{} // tasks that say themselves what they emptied
	refills := map[string]bool{}
	rows := func(kinds ...string) (out []*models.UnderWay) {
		for i := range st.req.UnderWay {
			if u := &st.req.UnderWay[i]; slices.Contains(kinds, u.Kind) && u.Mould != nil && *u.Mould == m.Code {
				out = append(out, u)
			}
		}
		return out
	}
	of := func(u *models.UnderWay) filling {
		g := m.LoadG
		if u.G != nil {
			g = *u.G
		}
		return filling{u.Start, g, max(1, int(math.Round(g/m.LoadG)))}
	}
	for _, u := range rows(models.TaskIceRefill) {
		refills[u.Task] = true
	}
	for _, u := range rows(models.TaskIceTake) {
		own[u.Task] = true
		e := of(u)
		if refills[u.Task] {
			e.at = e.at.Add(-time.Nanosecond) // before it is filled again
		}
		if u.State == models.Made {
			emptied = append(emptied, e)
		}
	}
	for _, u := range rows(models.TaskIceFill, models.TaskIceRefill) {
		f := of(u)
		if u.Kind == models.TaskIceRefill && !own[u.Task] {
			e := f
			e.at = e.at.Add(-time.Nanosecond) // before it is filled again
			emptied = append(emptied, e)
		}
		if k := slices.IndexFunc(filled, func(x filling) bool { return x.at.Equal(f.at) }); k >= 0 {
			filled[k].g += f.g
			filled[k].loads += f.loads
		} else {
			filled = append(filled, f)
		}
	}
	byTime := func(a, b filling) int { return a.at.Compare(b.at) }
	slices.SortStableFunc(filled, byTime)
	slices.SortStableFunc(emptied, byTime)
	for _, e := range emptied {
		for i := range filled {
			f := &filled[i]
			if e.loads == 0 || f.at.After(e.at) {
				break
			}
			n := min(e.loads, f.loads)
			if n > 0 {
				f.g -= f.g * float64(n) / float64(f.loads)
				f.loads -= n
				e.loads -= n
			}
		}
	}
	return slices.DeleteFunc(filled, func(f filling) bool { return f.loads == 0 })
}

// togetherWithin is how far apart loads of one tray set may be emptied and still be emptied at the earlier time, and how much earlier a
// tray may be filled because somebody is at the set anyway.
const togetherWithin = 45 * time.Minute

// together makes one task of emptying and filling where it can: loads of a set that are frozen within togetherWithin are emptied at the
// same time, and a tray is filled again when it is emptied. Ice that is frozen earlier waits in its tray.
func (s *iceStream) together() {
	for i := range s.loads {
		for k := range s.loads {
			a, b := &s.loads[i], &s.loads[k]
			if i == k || s.units[a.unit].row != s.units[b.unit].row || b.take <= a.take || b.take-a.take > s.togetherSlots {
				continue
			}
			if !s.retake(b, a.take) {
				s.retake(a, b.take)
			}
		}
	}
	s.sortLoads()
	for i := range s.loads {
		l := &s.loads[i]
		if l.fill < 0 {
			continue
		}
		if at := s.earlierFill(l); at >= 0 {
			l.fill = at
		}
	}
	s.run = s.runBin(s.loads)
}

// retake empties a load in slot t instead, unless it is not frozen then, its tray is needed, or ice is missing for it.
func (s *iceStream) retake(l *load, t int) bool {
	if !s.units[l.unit].mayTake[t] || !s.frozen(l, t) {
		return false
	}
	was := l.take
	l.take = t
	run := s.runBin(s.loads)
	if models.Sum(run.short)+models.Sum(run.lack) > models.Sum(s.run.short)+models.Sum(s.run.lack)+0.5 || !s.onTime(&run) || s.overlap(s.loads, run.late) {
		l.take = was
		return false
	}
	return true
}

// frozen reports whether a load is frozen by slot t.
func (s *iceStream) frozen(l *load, t int) bool {
	u := &s.units[l.unit]
	if l.fill < 0 {
		return t >= u.busyUntil
	}
	return t-l.fill >= u.freezeSlots
}

// onTime reports whether every load is emptied when it is due: none waits for room in the ice bin.
func (s *iceStream) onTime(run *iceRun) bool {
	for k, t := range run.late {
		if t != s.loads[k].take {
			return false
		}
	}
	return true
}

// earlierFill returns the slot in which a load is filled instead: when its tray was emptied, else when somebody is at the set anyway; −1
// if there is none that the tray, the freezer and the people allow.
func (s *iceStream) earlierFill(l *load) int {
	u := &s.units[l.unit]
	emptied, visit := -1, -1
	for i := range s.loads {
		o := &s.loads[i]
		if s.units[o.unit].row != u.row || o.take > l.fill {
			continue
		}
		if o.unit == l.unit {
			emptied = max(emptied, o.take)
		}
		visit = max(visit, o.take)
	}
	at := emptied
	if at < 0 && visit >= l.fill-s.togetherSlots {
		at = visit
	}
	if at < 0 || at < emptied || !u.mayFill[at] || slices.Contains(u.out[at:l.take], true) {
		return -1
	}
	return at
}

func (s *iceStream) sortLoads() {
	slices.SortStableFunc(s.loads, func(a, b load) int {
		return cmp.Or(cmp.Compare(a.take, b.take), cmp.Compare(a.unit, b.unit))
	})
}
