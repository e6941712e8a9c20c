package planner

import (
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// outage spans of one piece of equipment.
func outages(r *models.PlanRequest, kind, code string) []models.Span {
	var out []models.Span
	for _, o := range r.Outages {
		if o.Kind == kind && (kind == "tank" || o.Code == code) {
			out = append(out, models.Span{From: o.From, To: o.To})
		}
	}
	return out
}

// option is a beverage on a brewer: what an instance's option stands for.
type option struct {
	brewer, bev int
	lo, hi      float64
	busySlots   int
	t           times // of the largest batch
	readySlots  int
	iceSlots    int
	may         []bool
}

// options are what the brewers can make, in their order.
func (j *job) buildOptions() {
	tank := outages(j.req, "tank", "")
	for b := range j.req.Brewers {
		w := &j.req.Brewers[b]
		available := j.availability(w)
		out := append(outages(j.req, "brewer", w.Code), j.busyNow(b)...)
		seen := map[string]bool{}
		for _, code := range w.Beverages {
			if seen[code] {
				continue
			}
			seen[code] = true
			i := j.bevIndex[code]
			rc := j.recipes[i]
			lo, hi, ok := rc.limits(w)
			if !ok {
				j.misfits = append(j.misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi})
				continue
			}
			o := option{brewer: b, bev: i, lo: lo, hi: hi, t: rc.timesOf(rc.doseFor(hi), w.BusyMin)}
			if math.IsInf(o.t.ready, 0) || o.t.ready > 60*24*60 || rc.icePerG() > mostIcePerG {
				j.misfits = append(j.misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, never: true})
				continue
			}
			o.busySlots = max(1, j.h.ceilSlots(w.BusyMin))
			o.readySlots = j.h.ceilSlots(o.t.ready)
			o.iceSlots = int(math.Floor(o.t.ice/j.h.slot.Minutes() + 1e-9))
			o.may = make([]bool, j.h.n)
			any, fits := false, false
			for t := range o.may {
				start := j.h.at(t)
				busy := models.Span{From: start, To: start.Add(models.Minutes(w.BusyMin))}
				if !within(available, busy) {
					continue
				}
				fits = true
				switch {
				case !j.h.peopleAt(start), models.Touches(out, busy), models.Touches(tank, models.Span{From: start, To: start.Add(j.h.slot)}):
				case o.t.strain > 0 && !j.h.peopleAt(start.Add(models.Minutes(o.t.strain))):
				default:
					o.may[t] = true
					any = true
				}
			}
			if !any {
				j.misfits = append(j.misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, noTime: true, noSpan: !fits})
				continue
			}
			j.options = append(j.options, o)
		}
	}
}

// mostIcePerG is the most ice a gram of beverage can ask for; beyond it a recipe is all ice and grounds.
const mostIcePerG = 1000

// misfit is a beverage that a brewer is said to make and cannot.
type misfit struct {
	brewer, bev int
	lo, hi      float64
	never       bool // it never gets cold
	noTime      bool // no moment in the horizon fits
	noSpan      bool // not even without people and outages
}

func (h *horizon) ceilSlots(min float64) int { return int(math.Ceil(min/h.slot.Minutes() - 1e-9)) }

// availability is when a brewer's busy span may lie; nil means always. Spans that touch are one.
func (j *job) availability(w *models.Brewer) []models.Span {
	if len(w.Available) == 0 {
		return nil
	}
	var spans []models.Span
	last := models.DateOf(j.h.at(j.h.n), j.loc).AddDays(1)
	for d := models.DateOf(j.h.start, j.loc).AddDays(-2); d <= last; d = d.AddDays(1) {
		for _, c := range w.Available {
			spans = append(spans, c.On(d, j.loc))
		}
	}
	return models.Merged(spans)
}

func within(available []models.Span, s models.Span) bool {
	if available == nil {
		return true
	}
	for _, a := range available {
		if !s.From.Before(a.From) && !s.To.After(a.To) {
			return true
		}
	}
	return false
}

// starts is how many batches people may start in each slot: what holds when it begins, or less where that changes within it.
func (j *job) starts() []int {
	out := make([]int, j.h.n)
	for t := range out {
		cell := models.Span{From: j.h.at(t), To: j.h.at(t + 1)}
		atStart, lowest := -1, -1
		for _, a := range j.req.Attention {
			span := models.Span{From: a.From, To: a.To}
			if span.Contains(cell.From) && (atStart < 0 || a.Starts < atStart) {
				atStart = a.Starts
			}
			if !cell.Overlap(span).Empty() && (lowest < 0 || a.Starts < lowest) {
				lowest = a.Starts
			}
		}
		out[t] = j.req.Site.StartsPerSlot
		if atStart >= 0 {
			out[t] = atStart
		}
		if lowest >= 0 {
			out[t] = min(out[t], lowest)
		}
	}
	return out
}

// opening is a lot that is there, or under way, before the first slot.
type opening struct {
	bev       int
	g         float64
	from      time.Time // it may serve from
	until     time.Time
	ready, to int // slots [ready, to) that it serves
	row       int // of stock; -1: a batch under way
}

// instance states the batch problem of the request.
func (j *job) instance() *batch.Instance {
	r := j.req
	in := &batch.Instance{SlotMin: r.Site.SlotMin, Slots: j.h.n, StartsPerSlot: r.Site.StartsPerSlot, StoreG: r.Site.StoreG, SlotStarts: j.starts()}
	for i := range r.Beverages {
		c := j.needs.costs[i]
		b := batch.Beverage{Name: r.Beverages[i].Code, DemandG: j.needs.path[i], HoldSlots: j.holdSlots(i),
			UnitCostPerKg: bounded(c.unit * 1000), DisposalPerKg: bounded(c.disposal * 1000), ShortPerKg: bounded(c.short * 1000), AgingPerKgH: bounded(c.aging * 1000)}
		b.Opening = j.openingLots(i)
		in.Beverages = append(in.Beverages, b)
	}
	for b := range r.Brewers {
		w := batch.Brewer{Name: r.Brewers[b].Code}
		for k := range j.options {
			o := &j.options[k]
			if o.brewer != b || j.holdSlots(o.bev) < 1 {
				continue
			}
			ready := o.readySlots
			w.Options = append(w.Options, batch.Option{Beverage: r.Beverages[o.bev].Code, MinG: o.lo, MaxG: o.hi, BusySlots: o.busySlots,
				BatchCost: r.Brewers[b].BatchCost, IcePerG: j.recipes[o.bev].icePerG(), IceSlots: o.iceSlots, ReadySlots: &ready, MayStart: o.may})
		}
		in.Brewers = append(in.Brewers, w)
	}
	for i := range in.Beverages {
		in.Beverages[i].HoldSlots = max(1, in.Beverages[i].HoldSlots)
	}
	return in
}

// mostSane bounds grams and costs of the batch problem; what lies beyond is no shop's.
const mostSane = 1e9

func bounded(x float64) float64 { return min(x, mostSane) }

// mostOpening is how many opening lots of a beverage the batch problem is given; more are put together, two by two.
const mostOpening = 150

// openingLots are the lots of a beverage that are there, or under way, earliest expiry first.
func (j *job) openingLots(bev int) []batch.Opening {
	var out []batch.Opening
	for _, o := range j.opening {
		if o.bev == bev && o.g > 0 && o.to > o.ready && o.ready < j.h.n {
			out = append(out, batch.Opening{G: o.g, ReadySlot: o.ready, ExpiresSlot: o.to})
		}
	}
	for len(out) > mostOpening {
		slices.SortStableFunc(out, func(a, b batch.Opening) int { return a.ExpiresSlot - b.ExpiresSlot })
		half := out[:0]
		for k := 0; k < len(out); k += 2 {
			o := out[k]
			if k+1 < len(out) { // the cautious reading of both
				o.G += out[k+1].G
				o.ReadySlot = max(o.ReadySlot, out[k+1].ReadySlot)
			}
			if o.ReadySlot < o.ExpiresSlot {
				half = append(half, o)
			}
		}
		out = half
	}
	return out
}

// icePerG is the ice stirred in for each gram of finished beverage.
func (r *recipe) icePerG() float64 { return r.unit.IceG / r.brew.FinishedPerDose() }

// holdSlots is how many whole slots a batch may serve: it is ready at the earliest with the smallest cooling time, and no slot
// may end after its use-by time.
func (j *job) holdSlots(bev int) int {
	slack := 0.0
	for k := range j.options {
		o := &j.options[k]
		if o.bev == bev {
			t := j.recipes[bev].timesOf(j.recipes[bev].doseFor(o.lo), j.req.Brewers[o.brewer].BusyMin)
			slack = max(slack, float64(o.readySlots)*j.h.slot.Minutes()-t.ready)
		}
	}
	return int(math.Floor((j.req.Site.HoldH(&j.req.Beverages[bev])*60-slack)/j.h.slot.Minutes() + 1e-9))
}
