package sheet

import (
	"strconv"
	"time"

	"hotday/models"
)

// Times of the two fridge readings of a day: after people arrive, and before they leave.
const (
	firstReading = 15 * time.Minute
	lastReading  = 90 * time.Minute
)

// readingTakes is how long taking a temperature keeps hands busy.
const readingTakes = 2 * time.Minute

// tempLogs adds the temperatures to write down: of the cold store twice a day, and of batches that cool outside an ice bath. There are
// none where the site has chosen no food safety rules.
func (w *sheetWriter) tempLogs() {
	if w.plan.ColdLimitC == 0 {
		return
	}
	for _, d := range w.dates {
		spans := w.req.Site.StaffSpans(d)
		if len(spans) == 0 || len(w.req.Site.OpenSpans(d)) == 0 {
			continue
		}
		first, last := spans[0].From.Add(firstReading), spans[len(spans)-1].To.Add(-lastReading)
		w.reading(d, first, "store 1", models.Reading{Of: models.ReadingStore, LimitC: w.plan.ColdLimitC}, nil)
		if last.Sub(first) >= 2*time.Hour {
			w.reading(d, last, "store 2", models.Reading{Of: models.ReadingStore, LimitC: w.plan.ColdLimitC}, nil)
		}
	}
	for _, b := range w.numberBatches() {
		for i, p := range b.Probes {
			at := w.peopleBy(p.At)
			w.reading(w.dateOf(at), at, b.Brewer+" "+numbered(b.Beverage, b.n)+" probe "+strconv.Itoa(i+1), models.Reading{Of: b.Beverage, LimitC: p.LimitC}, w.withTaskID(b))
		}
	}
}

func (w *sheetWriter) reading(d models.Date, at time.Time, subject string, r models.Reading, batch *models.BatchTask) {
	if at.Before(w.plan.ComputedAt) {
		return
	}
	t := models.Task{ID: taskID(w.req.Site.Code, d, stationStore, models.TaskTempLog, subject), At: at, Until: at.Add(readingTakes), Hands: 1, Station: stationStore,
		Kind: models.TaskTempLog, State: models.Due, Reading: &r, Say: w.Say("food.log_store", "limit", w.Temp(r.LimitC)), Why: w.Say("food.why_log_store")}
	code := models.CautionHolding
	if batch != nil {
		t.Batch, t.Beverage, code = batch, batch.Beverage, models.CautionCooling
		t.Say = w.Say("food.log_batch", "beverage", w.name(batch.Beverage), "start", w.Moment(batch.Start, at), "limit", w.Temp(r.LimitC))
		t.Why = w.Say("food.why_log_batch")
	}
	w.caution(&t, code)
	w.put(d, t)
}
