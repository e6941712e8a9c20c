package sheet

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
)

// leastLeft is the least that is worth a task, g.
const leastLeft = 10

// perishable is an amount of a beverage with its use-by time.
type perishable struct {
	g            float64
	ready, useBy time.Time
	batch        *numberedBatch // nil: stock from before the plan
}

// discards adds a task for whatever will be left of a batch, or of earlier stock, at its use-by time. How much of a beverage there
// is then follows from the plan's stock curve. The oldest is served first, so what the later batches do not account for is left.
func (w *sheetWriter) discards(batches []numberedBatch) {
	for _, bev := range w.req.Beverages {
		var all []perishable
		for i := range batches {
			if b := &batches[i]; b.Beverage == bev.Code {
				all = append(all, perishable{b.BeverageG, b.Ready, b.UseBy, b})
			}
		}
		hold := time.Duration(math.Min(bev.HoldH, w.req.Site.MaxHoldH) * float64(time.Hour))
		for _, s := range w.req.Stock {
			if s.Beverage == bev.Code {
				all = append(all, perishable{s.G, s.MadeAt, s.MadeAt.Add(hold), nil})
			}
		}
		slices.SortStableFunc(all, func(a, b perishable) int { return a.useBy.Compare(b.useBy) })
		for i, p := range all {
			left := w.stockBefore(bev.Code, p.useBy)
			for _, later := range all[i+1:] {
				if later.ready.Before(p.useBy) {
					left -= later.g
				}
			}
			if left = math.Min(left, p.g); left >= leastLeft {
				w.discard(bev.Code, p, left)
			}
		}
	}
}

// stockBefore is the stock of a beverage just before an instant, g, 0 where the plan's curve has no point before it.
func (w *sheetWriter) stockBefore(beverage string, t time.Time) float64 {
	g, last := 0.0, time.Time{}
	for _, p := range w.plan.Stock {
		if p.Beverage == beverage && p.At.Before(t) && !p.At.Before(last) {
			g, last = p.G, p.At
		}
	}
	return g
}

func (w *sheetWriter) discard(beverage string, p perishable, left float64) {
	at := w.peopleBy(p.useBy)
	date := w.dateOf(at)
	if len(w.dates) == 0 || w.req.Site.ServiceDayOf(at) > w.dates[len(w.dates)-1] {
		return // on a sheet of a later plan
	}
	t := models.Task{At: at, Station: stationStore, Kind: models.TaskDiscard, State: models.Due,
		Beverage: beverage, Discard: &models.Discard{Beverage: beverage, G: left}}
	subject := fmt.Sprintf("%s before %d", beverage, p.useBy.Unix())
	if p.batch != nil {
		subject = fmt.Sprintf("%s %s %s", p.batch.date, p.batch.Brewer, numbered(beverage, p.batch.n))
		t.Batch = w.withTaskID(*p.batch)
	}
	t.ID = taskID(w.req.Site.Code, date, stationStore, models.TaskDiscard, subject)
	t.Say = w.sentence(&t)
	t.Why = w.Say("sheet.why_discard", "ready", w.Moment(p.ready, at), "use_by", w.Moment(p.useBy, at))
	w.caution(&t, models.CautionHolding)
	w.put(date, t)
}

// peopleBy is the last instant up to t at which somebody is there.
func (w *sheetWriter) peopleBy(t time.Time) time.Time {
	day := w.req.Site.ServiceDayOf(t)
	for back := range 3 {
		spans := w.req.Site.StaffSpans(day.AddDays(-back))
		for i := len(spans) - 1; i >= 0; i-- {
			switch {
			case spans[i].From.After(t):
			case spans[i].To.Before(t):
				return spans[i].To
			default:
				return t
			}
		}
	}
	return t
}
