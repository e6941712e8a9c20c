package planner

import (
	"math"
	"time"

	"hotday/models"
)

// halfHour is the length of a row of hands.
const halfHour = 30 * time.Minute

// hands is the time that the people on shift have for prep, by half hour of local time. It is empty where the request lists nobody:
// then hands are not limited.
type hands struct {
	from    time.Time // of the first half hour, at or before the first slot
	onShift []float64 // person-minutes from the first slot on
	serving []float64 // min of those, for the drinks expected
	free    []float64 // min left for prep: at least least, at most onShift
	kept    []float64 // min for work that is not batches: water, trays, beans, counts
	floor   []float64 // min that batches always have: one batch an hour
}

// newHands works out the time for prep of n half hours from an instant on: people on shift × 30 min − drinks expected × serve_min, but
// never less than one batch an hour needs, as far as anybody is on shift: least minutes in a half hour, and rest in one that follows a half
// hour with so much. Nobody is on shift when nobody is there, or before now.
func newHands(site *models.Site, there []models.Span, now, from time.Time, drinks []float64, least, rest float64) hands {
	if len(site.People) == 0 {
		return hands{}
	}
	n := len(drinks)
	h := hands{from: from, onShift: onShift(site, there, now, from, n), serving: make([]float64, n), free: make([]float64, n), kept: make([]float64, n), floor: make([]float64, n)}
	for k := range h.free {
		h.serving[k] = drinks[k] * site.ServeMin
		h.floor[k] = min(least, h.onShift[k])
		if k > 0 && h.free[k-1] >= least-1e-9 {
			h.floor[k] = min(rest, h.onShift[k])
		}
		h.free[k] = max(h.onShift[k]-h.serving[k], h.floor[k])
	}
	return h
}

// onShift returns the person-minutes of each half hour.
func onShift(site *models.Site, there []models.Span, now, from time.Time, n int) []float64 {
	out := make([]float64, n)
	end := from.Add(time.Duration(n) * halfHour)
	loc := site.Location()
	last := models.DateOf(end, loc)
	for d := models.DateOf(from, loc).AddDays(-1); d <= last; d = d.AddDays(1) {
		for _, s := range site.Shifts(d) {
			span := s.Span.Overlap(models.Span{From: now, To: end})
			for _, p := range there {
				o := span.Overlap(p)
				if o.Empty() {
					continue
				}
				for k := int(o.From.Sub(from) / halfHour); k < n && from.Add(time.Duration(k)*halfHour).Before(o.To); k++ {
					at := from.Add(time.Duration(k) * halfHour)
					out[k] += s.People * o.Overlap(models.Span{From: at, To: at.Add(halfHour)}).To.Sub(models.Later(at, o.From)).Minutes()
				}
			}
		}
	}
	return out
}

// mostKept is the largest share of the free time that is kept for work other than batches.
const mostKept = 0.5

// keep keeps minutes for other work in half hours [from, to), in proportion to the free time.
func (h *hands) keep(from, to int, minutes float64) {
	free := 0.0
	for k := from; k < to; k++ {
		free += h.free[k]
	}
	if free <= 0 {
		return
	}
	share := min(mostKept, minutes/free)
	for k := from; k < to; k++ {
		h.kept[k] = share * h.free[k]
	}
}

// forBatches returns the minutes of half hour k that batches may use.
func (h *hands) forBatches(k int) float64 { return max(h.free[k]-h.kept[k], h.floor[k]) }

// spread adds the work of a step that begins at an instant and takes some time evenly to half hours of use.
func (h *hands) spread(use []float64, at time.Time, takes, minutes float64) {
	eachPart(at.Sub(h.from).Minutes(), takes, minutes, halfHour.Minutes(), func(k int, m float64) {
		if k >= 0 && k < len(use) {
			use[k] += m
		}
	})
}

// eachPart splits minutes of work, spread evenly over takes minutes from at, into cells of a length; work that takes no time is in the
// cell in which it begins.
func eachPart(at, takes, minutes, cell float64, add func(k int, m float64)) {
	if minutes <= 0 {
		return
	}
	first := int(math.Floor(at/cell + 1e-9))
	if takes <= 0 {
		add(first, minutes)
		return
	}
	for k := first; float64(k)*cell < at+takes-1e-9; k++ {
		part := min(at+takes, float64(k+1)*cell) - max(at, float64(k)*cell)
		add(k, minutes*part/takes)
	}
}

// otherWork estimates the work of a service day that is not batches, min: a count, beans of each coffee got out, each set of trays
// emptied and filled twice, brewing water filled a container at a time (or once a day part), and ice carried to the wells.
func otherWork(r *models.PlanRequest, coffees, parts int, waterL, iceG float64) float64 {
	w := r.Site.Work()
	fills := float64(parts)
	if r.Water.ContainerL > 0 {
		fills = math.Ceil(waterL / r.Water.ContainerL)
	}
	m := w.Count + w.Get*float64(coffees) + w.Tray*2*float64(len(r.Ice.Moulds)) + w.Fill*fills
	holds, carry := 0.0, 0.0
	for _, x := range r.Site.IceWells {
		holds += x.HoldsG
		carry = max(carry, x.CarryMin)
	}
	if holds > 0 {
		m += carry * float64(len(r.Site.IceWells)) * math.Ceil(iceG/holds)
	}
	return m
}
