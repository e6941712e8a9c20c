package sheet

import (
	"fmt"

	"hotday/models"
)

// leastLeft is the least that is worth a task, g.
const leastLeft = 10

// discards adds a task for what the simulated days leave, on average, of a batch or of earlier stock at its use-by time.
func (w *sheetWriter) discards(batches []numberedBatch) {
	for i := range w.plan.Left {
		l := &w.plan.Left[i]
		if l.Carried || l.G < leastLeft {
			continue
		}
		var batch *numberedBatch
		for k := range batches {
			if l.Batch != "" && batches[k].ID == l.Batch {
				batch = &batches[k]
			}
		}
		w.discard(l, batch)
	}
}

// discard adds the task for one lot, at its use-by time or when somebody is next there; batch is nil for stock from before the plan.
func (w *sheetWriter) discard(l *models.LotLeft, batch *numberedBatch) {
	at, ok := w.presence.next(l.UseBy, models.Minutes(w.req.Site.Work().Get))
	date := w.dateOf(at)
	if !ok || len(w.dates) == 0 || w.req.Site.ServiceDayOf(at) > w.dates[len(w.dates)-1] {
		return // on a sheet of a later plan
	}
	t := models.Task{At: at, Station: stationStore, Kind: models.TaskDiscard, State: models.Due,
		Beverage: l.Beverage, Discard: &models.Discard{Beverage: l.Beverage, G: l.G}}
	subject := fmt.Sprintf("%s before %d", l.Beverage, l.UseBy.Unix())
	if batch != nil {
		subject = fmt.Sprintf("%s %s %s", batch.date, batch.Brewer, numbered(l.Beverage, batch.n))
		t.Batch = w.withTaskID(*batch)
	}
	t.ID = taskID(w.req.Site.Code, date, stationStore, models.TaskDiscard, subject)
	t.Say = w.sentence(&t)
	t.Why = w.Say("sheet.why_discard", "ready", w.Moment(l.MadeAt, at), "use_by", w.Moment(l.UseBy, at))
	w.caution(&t, models.CautionHolding)
	w.put(date, t)
}
