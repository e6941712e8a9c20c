package planner

import (
	"math"
	"time"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/chill"
)

// step is a moment of a batch at which somebody does something, min from its start. It begins between from and to, depending on the
// size of the batch.
type step struct {
	from, to float64
	takes    float64 // how long it takes, min
	work     float64 // of one person within that time, min
}

// steps lists the steps of batches of lo to hi grams on a brewer: start, end of the brew, into the bath, ice stirred in, strained, into
// the cold store.
func (r *recipe) steps(w *models.Brewer, lo, hi float64, work models.WorkMin) []step {
	small, large := r.timesOf(r.brewedG(r.doseFor(lo)), w.BusyMin), r.timesOf(r.brewedG(r.doseFor(hi)), w.BusyMin)
	between := func(f func(t times) float64) step {
		a, b := f(small), f(large)
		return step{from: min(a, b), to: max(a, b)}
	}
	start := step{takes: work.Brew, work: work.Brew}
	store := between(func(t times) float64 { return t.ready })
	store.takes, store.work = work.Store, work.Store
	if r.bev.Method == models.Steeped { // nobody stands beside a steep
		strain := between(func(t times) float64 { return t.strain })
		strain.takes, strain.work = work.StrainTakes, work.Strain
		out := []step{start, strain}
		cold := func(t times) float64 { return t.strain + work.StrainTakes }
		if r.inBath || r.coolToC != nil {
			bath, m := between(cold), work.Chill(r.inBath, r.unit.IceG > 0)
			bath.takes, bath.work = m, m
			out = append(out, bath)
			cold = func(t times) float64 { return t.strain + work.StrainTakes + m }
		}
		store = between(func(t times) float64 { return max(t.ready, cold(t)) })
		store.takes, store.work = work.Store, work.Store
		return append(out, store)
	}
	if w.ByHand {
		start.takes, start.work = w.BusyMin, w.BusyMin
	}
	m := work.Chill(r.inBath, r.unit.IceG > 0)
	end := step{from: w.BusyMin, to: w.BusyMin}
	if !r.inBath {
		end.takes, end.work = m, m
	}
	cold := between(func(t times) float64 { return max(t.ready, w.BusyMin+m) }) // not before it is stirred
	cold.takes, cold.work = store.takes, store.work
	out := []step{start, end, cold}
	if r.inBath {
		a, b := w.BusyMin+r.restMin(r.doseFor(lo)), w.BusyMin+r.restMin(r.doseFor(hi))
		out = append(out, step{from: min(a, b), to: max(a, b), takes: m, work: m})
	}
	if r.unit.IceG > 0 {
		out = append(out, between(func(t times) float64 { return t.ice }))
	}
	return out
}

// restMin is how long a batch rests before its bath, min; 0 where that is not known.
func (r *recipe) restMin(doseG float64) float64 {
	if r.bev.CoolingUAWPerK == nil || r.restC >= r.outC {
		return 0
	}
	return chill.CoolingMinutes(r.brewedG(doseG), r.outC, r.restAmbientC(), *r.bev.CoolingUAWPerK, r.restC)
}

// inBathMin returns when batches of lo to hi grams occupy an ice bath, min from their start: from the first that goes in to the last
// that comes out. Without cooling_ua_w_per_k they come out when they are ready. ok is false without a bath.
func (r *recipe) inBathMin(w *models.Brewer, lo, hi float64) (from, to float64, ok bool) {
	if !r.inBath {
		return 0, 0, false
	}
	from = math.Inf(1)
	for _, g := range []float64{lo, hi} {
		dose := r.doseFor(g)
		t := r.timesOf(r.brewedG(dose), w.BusyMin)
		switch {
		case r.bev.Method == models.Steeped:
			from, to = min(from, t.strain), max(to, t.ready)
		case r.bev.CoolingUAWPerK == nil:
			from, to = min(from, w.BusyMin), max(to, t.ready)
		default:
			from, to = min(from, w.BusyMin+r.restMin(dose)), max(to, t.ice)
		}
	}
	return from, to, true
}

// attended reports whether somebody is there whenever the steps of a batch that starts at an instant may begin, and whether attention
// lets them begin something then. The start itself is a matter of the starts that people can make.
func (st *setting) attended(start time.Time, steps []step) (there, free bool) {
	free = true
	if lead := models.Minutes(st.workTimes().Get); lead > 0 { // its beans are got out first
		if before := start.Add(-lead); before.Before(st.req.Now) || !st.h.peopleThrough(models.Span{From: before, To: start}, 0) {
			return false, false
		}
	}
	for i := range steps {
		span := models.Span{From: start.Add(models.Minutes(steps[i].from)), To: start.Add(models.Minutes(steps[i].to))}
		if !st.h.peopleThrough(span, models.Minutes(steps[i].takes)) {
			return false, false
		}
		free = free && (steps[i].to <= 0 || !st.nothingBegins(span))
	}
	return true, free
}

// nothingBegins reports whether a span with both its ends touches attention of 0 starts, when no task begins.
func (st *setting) nothingBegins(s models.Span) bool {
	for _, a := range st.req.Attention {
		if a.Starts == 0 && s.From.Before(a.To) && !s.To.Before(a.From) {
			return true
		}
	}
	return false
}

// workFrom returns the work of a batch that starts in a slot by window of the instance. Each step counts the most that it can be in a
// window over the sizes of the batch.
func (st *setting) workFrom(slot int, steps []step) []batch.WorkUse {
	var out []batch.WorkUse
	at := st.h.at(slot).Sub(st.windowsFrom()).Minutes()
	cell := st.windowMin().Minutes()
	for i := range steps {
		s := &steps[i]
		if s.work <= 0 {
			continue
		}
		first, last := int(math.Floor((at+s.from)/cell+1e-9)), int(math.Floor((at+s.to+s.takes)/cell+1e-9))
		for k := first; k <= last; k++ {
			if m := s.work * s.mostIn(float64(k)*cell-at, float64(k+1)*cell-at); m > 1e-9 {
				out = append(out, batch.WorkUse{Window: k, Min: m})
			}
		}
	}
	return merged(out)
}

// mostIn is the largest share of a step that falls into [a, b), min from the start of its batch, over the times at which it may begin.
func (s *step) mostIn(a, b float64) float64 {
	if s.takes <= 0 {
		if s.from < b-1e-9 && s.to > a-1e-9 {
			return 1
		}
		return 0
	}
	begin := min(max(a, s.from), s.to)
	return max(0, min(begin+s.takes, b)-max(begin, a)) / s.takes
}

// merged adds up the uses of each window.
func merged(uses []batch.WorkUse) []batch.WorkUse {
	out := uses[:0]
	for _, u := range uses {
		known := false
		for i := range out {
			if out[i].Window == u.Window {
				out[i].Min += u.Min
				known = true
			}
		}
		if !known {
			out = append(out, u)
		}
	}
	return out
}

// windowMin is the length of a window of the instance's work: half an hour, or an hour where slots do not divide that.
func (st *setting) windowMin() time.Duration {
	if halfHour%st.h.slot == 0 {
		return halfHour
	}
	return 2 * halfHour
}

// windowsFrom is the beginning of the first window: the half hour or hour of local time of the first slot.
func (st *setting) windowsFrom() time.Time {
	midnight := models.DateOf(st.h.start, st.loc).At(0, st.loc)
	return midnight.Add(st.h.start.Sub(midnight) / st.windowMin() * st.windowMin())
}

// windowCount is the number of windows that the slots reach.
func (st *setting) windowCount() int {
	return int((st.h.at(st.h.n).Sub(st.windowsFrom()) + st.windowMin() - 1) / st.windowMin())
}
