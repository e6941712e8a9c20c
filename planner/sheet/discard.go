package sheet

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// leastLeft is what is not worth a task of its own, g.
const leastLeft = 10

// perishing is an amount of a beverage with the time at which it has to be thrown away.
type perishing struct {
	g            float64
	ready, useBy time.Time
	batch        *numberedBatch // nil: was there before
}

// discards writes what would be left of a batch, or of what was there before, when it may no longer be used. The plan's stock
// curve says how much of a beverage is there; what expires first is taken first, so that what later ones do not make up is left.
func (w *sheetWriter) discards(batches []numberedBatch) {
	for _, bev := range w.req.Beverages {
		var all []perishing
		for i := range batches {
			if b := &batches[i]; b.Beverage == bev.Code {
				all = append(all, perishing{b.BeverageG, b.Ready, b.UseBy, b})
			}
		}
		hold := time.Duration(math.Min(bev.HoldH, w.req.Site.MaxHoldH) * float64(time.Hour))
		for _, s := range w.req.Stock {
			if s.Beverage == bev.Code {
				all = append(all, perishing{s.G, s.MadeAt, s.MadeAt.Add(hold), nil})
			}
		}
		slices.SortStableFunc(all, func(a, b perishing) int { return a.useBy.Compare(b.useBy) })
		for i, p := range all {
			left := w.stockBefore(bev.Code, p.useBy)
			for _, later := range all[i+1:] {
				if later.ready.Before(p.useBy) {
					left -= later.g
				}
			}
			if left = math.Min(left, p.g); left >= leastLeft {
				w.discard(bev.Code, p, i, left)
			}
		}
	}
}

// stockBefore is the last point of the stock curve before an instant, 0 where there is none.
func (w *sheetWriter) stockBefore(beverage string, t time.Time) float64 {
	g, last := 0.0, time.Time{}
	for _, p := range w.plan.Stock {
		if p.Beverage == beverage && p.At.Before(t) && !p.At.Before(last) {
			g, last = p.G, p.At
		}
	}
	return g
}

func (w *sheetWriter) discard(beverage string, p perishing, i int, left float64) {
	at := w.peopleBy(p.useBy)
	date := w.page(at)
	if len(w.dates) == 0 || w.req.Site.ServiceDayOf(at) > w.dates[len(w.dates)-1] {
		return // a later plan's
	}
	subject := fmt.Sprintf("%s before %d", beverage, p.useBy.Unix())
	made := w.Say("sheet.was_there")
	var batch *models.BatchTask
	if p.batch != nil {
		subject = fmt.Sprintf("%s %s %s", p.batch.date, p.batch.Brewer, numbered(beverage, p.batch.n))
		made = w.Say("sheet.batch_of", "start", w.Moment(p.batch.Start, at), "brewer", p.batch.Brewer)
		batch = w.onTask(*p.batch)
	}
	w.put(date, models.Task{
		ID: taskID(w.req.Site.Code, date, stationStore, models.TaskDiscard, subject),
		At: at, Station: stationStore, Kind: models.TaskDiscard, State: models.Due, Batch: batch,
		Say:     w.Say("sheet.discard", "beverage", w.name(beverage), "what", made, "mass", w.WeighedGrams(left)),
		Why:     w.Say("sheet.why_discard", "ready", w.Moment(p.ready, at), "use_by", w.Moment(p.useBy, at)),
		Caution: w.Caution(say.CautionHolding),
	})
}

// peopleBy is an instant, or the last before it at which somebody is there to act.
func (w *sheetWriter) peopleBy(t time.Time) time.Time {
	day := w.req.Site.ServiceDayOf(t)
	for back := range 3 {
		spans := w.req.Site.PeopleSpans(day.AddDays(-back))
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
