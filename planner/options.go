package planner

import (
	"math"

	"hotday/models"
	"hotday/planner/batch"
)

// outages returns the outages of a piece of equipment.
func outages(r *models.PlanRequest, kind, code string) []models.Span {
	var out []models.Span
	for _, o := range r.Outages {
		if o.Kind == kind && (kind == "tank" || o.Code == code) {
			out = append(out, models.Span{From: o.From, To: o.To})
		}
	}
	return out
}

// option is a beverage on a brewer, as in an instance's options.
type option struct {
	brewer, bev int
	lo, hi      float64   // the smallest and largest of its sizes
	sizes       []amounts // smallest first
	busySlots   int
	t           times // of the largest batch
	readySlots  int
	iceSlots    int
	may         []bool
	held        []bool            // starts that only attention of 0 starts at a later step rules out
	work        [][]batch.WorkUse // by start slot; nil where hands are not limited
	bathFrom    int               // slots [bathFrom, bathTo) from the start in an ice bath
	bathTo      int
}

// nearest returns the size nearest to g g of finished beverage.
func (o *option) nearest(g float64) *amounts {
	best := &o.sizes[0]
	for k := range o.sizes {
		if a := &o.sizes[k]; math.Abs(a.g-g) < math.Abs(best.g-g) {
			best = a
		}
	}
	return best
}

// sizesBetween returns the smallest batch that a brewer would make and the largest that it can, where none of its sizes is from lo to hi.
func sizesBetween(sizes []float64, lo, hi float64) (smallest, largest float64) {
	smallest, largest = math.Inf(1), 0
	for _, g := range sizes {
		if g > hi {
			smallest = min(smallest, g)
		} else {
			largest = max(largest, g)
		}
	}
	if math.IsInf(smallest, 1) { // all are below the brewer's smallest
		return lo, largest
	}
	return smallest, hi
}

// workAt returns the work by window of a batch that starts in a slot.
func (o *option) workAt(slot int) []batch.WorkUse {
	if o.work == nil {
		return nil
	}
	return o.work[slot]
}

// brewOptions lists what each brewer can make, in the order of the set-up, and the pairs of brewer and beverage that cannot be.
func brewOptions(st *setting, recipes []*recipe, now stock) (options []option, misfits []misfit) {
	tank := outages(st.req, "tank", "")
	for b := range st.req.Brewers {
		w := &st.req.Brewers[b]
		available := st.availability(w)
		out := append(outages(st.req, "brewer", w.Code), now.busyNow(b)...)
		seen := map[string]bool{}
		for _, code := range w.Beverages {
			if seen[code] {
				continue
			}
			seen[code] = true
			i := st.bevIndex[code]
			rc := recipes[i]
			lo, hi, _ := rc.limits(w)
			sizes := rc.sizes(w)
			if len(sizes) == 0 {
				if lo <= hi {
					lo, hi = sizesBetween(w.SizesG, lo, hi)
				}
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi})
				continue
			}
			largest := &sizes[len(sizes)-1]
			o := option{brewer: b, bev: i, lo: sizes[0].g, hi: largest.g, sizes: sizes, t: rc.timesOf(largest.ext.BeverageG, w.BusyMin)}
			if math.IsInf(o.t.ready, 0) || o.t.ready > 60*24*60 || rc.icePerG() > maxIcePerG {
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, never: true})
				continue
			}
			o.busySlots = max(1, st.h.ceilSlots(w.BusyMin))
			o.readySlots = st.h.ceilSlots(o.t.ready)
			o.iceSlots = int(math.Floor(o.t.ice/st.h.slot.Minutes() + 1e-9))
			steps := rc.steps(w, lo, hi, st.req.Site.Work())
			if from, to, ok := rc.inBathMin(w, lo, hi); ok {
				o.bathFrom = int(math.Floor(from/st.h.slot.Minutes() + 1e-9))
				o.bathTo = max(o.bathFrom+1, st.h.ceilSlots(to))
			}
			o.may, o.held = make([]bool, st.h.n), make([]bool, st.h.n)
			any, fits := false, false
			for t := range o.may {
				start := st.h.at(t)
				busy := models.Span{From: start, To: start.Add(models.Minutes(w.BusyMin))}
				if !within(available, busy) {
					continue
				}
				fits = true
				there, free := st.attended(start, steps)
				switch {
				case models.Touches(out, busy), models.Touches(tank, models.Span{From: start, To: start.Add(st.h.slot)}):
				case t+o.readySlots < st.h.sold: // it would be sold before the plan begins
				case !there:
				case !free:
					o.held[t] = true
				default:
					o.may[t] = true
					any = true
				}
			}
			if !any {
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, noTime: true, noSpan: !fits})
				continue
			}
			o.work = st.workByStart(steps, o.may)
			options = append(options, o)
		}
	}
	return options, misfits
}

// maxIcePerG bounds the ice per gram of beverage; beyond it a recipe is nothing but ice and grounds.
const maxIcePerG = 1000

// misfit is a beverage that a brewer is set up to make but cannot.
type misfit struct {
	brewer, bev int
	lo, hi      float64
	never       bool // it never gets cold
	noTime      bool // no slot in the horizon fits
	noSpan      bool // not even without people and outages
}

func (h *horizon) ceilSlots(min float64) int { return int(math.Ceil(min/h.slot.Minutes() - 1e-9)) }

// availability returns the spans in which a brewer may be busy, merged; nil means always.
func (st *setting) availability(w *models.Brewer) []models.Span {
	if len(w.Available) == 0 {
		return nil
	}
	var spans []models.Span
	last := models.DateOf(st.h.at(st.h.n), st.loc).AddDays(1)
	for d := models.DateOf(st.h.start, st.loc).AddDays(-2); d <= last; d = d.AddDays(1) {
		for _, c := range w.Available {
			spans = append(spans, c.On(d, st.loc))
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
