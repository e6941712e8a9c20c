package facts

import (
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/learnt"
)

// iceBin is the bin of ice for drinks from its first count to its last.
func (w *shopWatch) iceBin() (learnt.IceShop, error) {
	x := &w.r.Ice
	out := learnt.IceShop{BinG: x.BinG, LossPctPerH: x.BinLossPctPH}
	var makers []*models.IceMaker
	for i := range x.Makers {
		if m := &x.Makers[i]; m.Treated {
			makers = append(makers, m)
			out.Machines = append(out.Machines, m.Code)
		}
	}
	from := w.since(func(s *models.Setup) any {
		return []any{s.Ice.BinG, s.Ice.BinLossPctPH, s.Ice.InletWaterC, s.Ice.Makers, s.Site.OtherIcePct}
	})
	counts, err := w.iceCounts(from)
	if err != nil || len(counts) < 2 {
		return out, err
	}
	start := counts[0].CountedAt
	n := int(counts[len(counts)-1].CountedAt.Sub(start)/learnt.StepLength) + 1
	stepOf := func(at time.Time) int { return int((at.Sub(start) + learnt.StepLength/2) / learnt.StepLength) }
	for _, c := range counts {
		out.Counts = append(out.Counts, learnt.BinCount{Step: min(stepOf(c.CountedAt), n), G: min(*c.IceG, x.BinG)})
	}
	out.Steps = make([]learnt.IceStep, n)
	if err := w.iceMade(out.Steps, start, makers); err != nil {
		return out, err
	}
	w.iceServed(out.Steps, start)
	moves, _ := w.iceMoves(w.changes)
	for _, m := range append(moves, w.batchIce()...) {
		// A look into the bin sees what was moved before it: the move belongs to the step that it lies in.
		if i := int(m.at.Sub(start) / learnt.StepLength); !m.at.Before(start) && i < n {
			out.Steps[i].MovedG += m.g
		}
	}
	w.markUnknown(out.Steps, start)
	return out, nil
}

// iceCounts are the counts of ice for drinks since from, in order of time, one for each quarter of an hour.
func (w *shopWatch) iceCounts(from time.Time) ([]models.StockCount, error) {
	all, err := w.st.StockCounts(w.ctx, w.q.Site, from, w.q.Now.Add(time.Millisecond))
	if err != nil {
		return nil, err
	}
	var out []models.StockCount
	for _, c := range all {
		switch {
		case c.IceG == nil:
		case len(out) > 0 && c.CountedAt.Sub(out[len(out)-1].CountedAt) < learnt.StepLength:
			out[len(out)-1].IceG = c.IceG // corrected
		default:
			out = append(out, c)
		}
	}
	return out, nil
}

// iceMade sets the air and the output of each machine, by the set-up.
func (w *shopWatch) iceMade(steps []learnt.IceStep, start time.Time, makers []*models.IceMaker) error {
	air, err := w.airSince(start)
	if err != nil {
		return err
	}
	away, err := w.st.Outages(w.ctx, w.q.Site, start, w.q.Now)
	if err != nil {
		return err
	}
	for i := range steps {
		s, at := &steps[i], start.Add(time.Duration(i)*learnt.StepLength)
		c, known := air(at)
		s.AirC, s.Unknown, s.MadeG = c, !known, make([]float64, len(makers))
		for k, m := range makers {
			if !isAway(away, m.Code, at) {
				s.MadeG[k] = w.outputOf(m)(c) * learnt.StepLength.Hours()
			}
		}
	}
	return nil
}

// iceServed adds the ice in the drinks sold, by the set-up.
func (w *shopWatch) iceServed(steps []learnt.IceStep, start time.Time) {
	serving := map[string]float64{}
	for i := range w.r.Drinks {
		serving[w.r.Drinks[i].Code] = w.r.Site.ServingIceUsedG(&w.r.Drinks[i])
	}
	for _, s := range w.sold {
		g := s.servings * serving[s.drink]
		length := s.span.To.Sub(s.span.From)
		if g <= 0 || length <= 0 {
			continue
		}
		first := max(0, int(s.span.From.Sub(start)/learnt.StepLength))
		for i := first; i < len(steps); i++ {
			at := start.Add(time.Duration(i) * learnt.StepLength)
			if !at.Before(s.span.To) {
				break
			}
			if o := s.span.Overlap(models.Span{From: at, To: at.Add(learnt.StepLength)}); !o.Empty() {
				steps[i].ServedG += g * float64(o.To.Sub(o.From)) / float64(length)
			}
		}
	}
}

// markUnknown marks the opening hours of days without a count from the till, and those after its last.
func (w *shopWatch) markUnknown(steps []learnt.IceStep, start time.Time) {
	site := &w.r.Site
	end := start.Add(time.Duration(len(steps)) * learnt.StepLength)
	for d := site.ServiceDayOf(start); d <= site.ServiceDayOf(end); d = d.AddDays(1) {
		open := site.OpenSpans(d)
		day := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
		sold := slices.ContainsFunc(w.sold, func(s sale) bool { return !s.span.Overlap(day).Empty() })
		for _, o := range open {
			if sold {
				o.From = models.Later(o.From, w.lastSale)
			}
			for i := max(0, int(o.From.Sub(start)/learnt.StepLength)); i < len(steps) && start.Add(time.Duration(i)*learnt.StepLength).Before(o.To); i++ {
				steps[i].Unknown = true
			}
		}
	}
}
