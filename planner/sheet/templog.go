package sheet

import (
	"strconv"
	"time"

	"hotday/models"
)

// Fridge readings of a day: one after people arrive and one before they leave, or the one where they are there for less than fewHours.
const (
	firstReading = 15 * time.Minute
	lastReading  = 90 * time.Minute
	fewHours     = 4 * time.Hour
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
		for i, at := range w.storeReadings(d) {
			w.reading(d, at, "store "+strconv.Itoa(i+1), models.Reading{Of: models.ReadingStore, LimitC: w.plan.ColdLimitC}, nil)
		}
	}
	for _, b := range w.numberBatches() {
		var before time.Time
		for i, p := range b.Probes {
			at, ok := w.presence.last(p.At, readingTakes)
			if !ok || at.Before(b.Start) {
				if at, ok = w.presence.next(p.At, readingTakes); !ok {
					continue
				}
			}
			if at.Equal(before) {
				continue // one look when people leave or come back
			}
			before = at
			w.reading(w.dateOf(at), at, b.Brewer+" "+numbered(b.Beverage, b.n)+" probe "+strconv.Itoa(i+1), models.Reading{Of: b.Beverage, LimitC: p.LimitC}, w.withTaskID(b))
		}
	}
}

// storeReadings are the times to read the cold store's temperature on a service day: within it, while people are there.
func (w *sheetWriter) storeReadings(d models.Date) []time.Time {
	var there []models.Span
	var sum time.Duration
	day := models.Span{From: w.dayBegins(d), To: w.dayBegins(d.AddDays(1))}
	for _, s := range attendance(w.req, d) {
		for _, part := range models.Without(s.Overlap(day), w.presence.shut) {
			if part.To.Sub(part.From) >= readingTakes {
				there = append(there, part)
				sum += part.To.Sub(part.From)
			}
		}
	}
	if len(there) == 0 {
		return nil
	}
	into := func(s models.Span, at time.Time) time.Time {
		at, _ = fitInto([]models.Span{s}, at, readingTakes)
		return at
	}
	first := into(there[0], there[0].From.Add(firstReading))
	if sum < fewHours {
		return []time.Time{first}
	}
	end := there[len(there)-1]
	return []time.Time{first, into(end, end.To.Add(-lastReading))}
}

// dayBegins is when a service day begins: at midnight, or when the shop closes after it.
func (w *sheetWriter) dayBegins(d models.Date) time.Time {
	at := d.At(0, w.req.Site.Location())
	for _, s := range w.req.Site.OpenSpans(d.AddDays(-1)) {
		at = models.Later(at, s.To)
	}
	return at
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
