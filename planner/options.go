package planner

import (
	"hotday/models"
	"math"
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
	lo, hi      float64
	busySlots   int
	t           times // of the largest batch
	readySlots  int
	iceSlots    int
	may         []bool
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
			lo, hi, ok := rc.limits(w)
			if !ok {
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi})
				continue
			}
			o := option{brewer: b, bev: i, lo: lo, hi: hi, t: rc.timesOf(rc.doseFor(hi), w.BusyMin)}
			if math.IsInf(o.t.ready, 0) || o.t.ready > 60*24*60 || rc.icePerG() > maxIcePerG {
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, never: true})
				continue
			}
			o.busySlots = max(1, st.h.ceilSlots(w.BusyMin))
			o.readySlots = st.h.ceilSlots(o.t.ready)
			o.iceSlots = int(math.Floor(o.t.ice/st.h.slot.Minutes() + 1e-9))
			o.may = make([]bool, st.h.n)
			any, fits := false, false
			for t := range o.may {
				start := st.h.at(t)
				busy := models.Span{From: start, To: start.Add(models.Minutes(w.BusyMin))}
				if !within(available, busy) {
					continue
				}
				fits = true
				switch {
				case !st.h.peopleAt(start), models.Touches(out, busy), models.Touches(tank, models.Span{From: start, To: start.Add(st.h.slot)}):
				case t+o.readySlots < st.h.sold: // it would be sold before the plan begins
				case o.t.strain > 0 && !st.h.peopleAt(start.Add(models.Minutes(o.t.strain))):
				default:
					o.may[t] = true
					any = true
				}
			}
			if !any {
				misfits = append(misfits, misfit{brewer: b, bev: i, lo: lo, hi: hi, noTime: true, noSpan: !fits})
				continue
			}
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
