package sheet

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// stationCare is the station of care that belongs to no machine.
const stationCare = "cleaning"

// coolSpell is how long care done for the heat holds, days: one cleaning covers a hot spell. Common practice, no source.
const coolSpell = 7

// care adds the recurring care that falls due on the days of the sheets and on the day of now before them. On other days before the
// first sheet only care for the heat of a day to come is asked for.
func (w *sheetWriter) care() {
	if len(w.dates) == 0 {
		return
	}
	hottest := w.hottest()
	for i := range w.req.Site.Care {
		w.careOf(&w.req.Site.Care[i], hottest)
	}
}

func (w *sheetWriter) careOf(c *models.Care, hottest map[models.Date]float64) {
	today, first, end := w.req.Site.ServiceDayOf(w.plan.ComputedAt), w.dates[0], w.dates[len(w.dates)-1]
	done := c.LastDone  // the sheets' own tasks count as done
	var missed *careDue // on a weekday on which nobody was there: then it is due on the next day
	for d := min(today, first); d <= end; d = d.AddDays(1) {
		due, ok := dueOn(c, done, d, hottest)
		if !ok && missed != nil {
			due, ok = *missed, true
		}
		if !ok || d != today && d < first && !due.heat {
			continue
		}
		there := attendance(w.req, d)
		takes := models.Minutes(c.Min)
		at, fits := fitInto(there, d.At(c.At.Minutes(), w.req.Site.Location()), takes)
		if missed = nil; !fits {
			if c.Weekday != "" && !due.heat {
				missed = &due
			}
			continue
		}
		id := w.careID(c, d, at)
		if _, asked := w.old[id]; at.Before(w.plan.ComputedAt) && !asked {
			if !due.heat {
				continue
			}
			soon := w.plan.ComputedAt.Truncate(15 * time.Minute).Add(15 * time.Minute)
			if at, fits = fitInto(there, soon, takes); !fits || at.Before(soon) {
				continue
			}
			id = w.careID(c, d, at)
		}
		w.clean(c, id, d, at, due, done == c.LastDone)
		done = new(d)
	}
}

func (w *sheetWriter) careID(c *models.Care, d models.Date, at time.Time) string {
	return taskID(w.req.Site.Code, w.dateOf(at), cmp.Or(c.Station, stationCare), models.TaskClean, c.Code+"@"+string(d))
}

// careDue is why care is due on a day.
type careDue struct {
	since models.Date // before the day where it is overdue; empty where nobody knows
	heat  bool        // for the heat of the next day
	topC  float64     // of the next day
}

// dueOn reports whether care is due on a date, when it was last done before it on last (nil: not known).
func dueOn(c *models.Care, last *models.Date, d models.Date, hottest map[models.Date]float64) (careDue, bool) {
	onDay := c.Weekday == "" || strings.EqualFold(c.Weekday, d.Weekday().String()[:3])
	switch {
	case c.EveryDays == 0 && onDay:
		return careDue{since: d}, last == nil || *last < d
	case c.EveryDays > 0 && last == nil && onDay:
		return careDue{}, true
	case c.EveryDays > 0 && last != nil && last.AddDays(c.EveryDays) <= d && onDay:
		return careDue{since: last.AddDays(c.EveryDays)}, true
	}
	next := d.AddDays(1)
	if top, known := hottest[next]; c.HotC != nil && known && top >= *c.HotC && (last == nil || last.AddDays(coolSpell) <= d) {
		return careDue{since: d, heat: true, topC: top}, true
	}
	return careDue{}, false
}

// hottest is the highest temperature of each service day in the request's weather, °C.
func (w *sheetWriter) hottest() map[models.Date]float64 {
	out := map[models.Date]float64{}
	for _, h := range w.req.Weather {
		d := w.req.Site.ServiceDayOf(h.At)
		if top, known := out[d]; !known {
			out[d] = h.TempC
		} else {
			out[d] = math.Max(top, h.TempC)
		}
	}
	return out
}

// clean adds the task of care on a date. first: no task before it on the sheets is the same care.
func (w *sheetWriter) clean(c *models.Care, id string, d models.Date, at time.Time, due careDue, first bool) {
	since, name := cmp.Or(due.since, d), cmp.Or(c.Name, c.Code)
	t := models.Task{ID: id, At: at, Until: at.Add(models.Minutes(c.Min)), Hands: 1, Station: cmp.Or(c.Station, stationCare), Kind: models.TaskClean,
		State: models.Due, Say: name, Why: w.careRule(c, d, due, first), Care: &models.CareTask{Code: c.Code, Name: name, Due: since}}
	if since < d {
		t.Say = w.Say("care_task.overdue", "name", name)
		t.Why = w.Say("care_task.was_due", "text", t.Why, "date", w.date(since))
	}
	if w.holdsIce(c.Station) {
		w.caution(&t, models.CautionIceFood)
	}
	w.put(w.dateOf(at), t)
}

// careRule says how often care is due and, for the first on the sheets, when it was last done: "Every 7 days, last done 3 Jul."
func (w *sheetWriter) careRule(c *models.Care, d models.Date, due careDue, first bool) string {
	var rule string
	switch {
	case due.heat:
		rule = w.Say("care_task.heat", "temp", w.WholeTemp(due.topC), "day", w.DayName(d.AddDays(1)))
	case c.EveryDays > 0:
		rule = w.Say("care_task.every", "n", c.EveryDays)
	case c.Weekday != "":
		rule = w.Say("care_task.weekly", "weekday", w.DayName(cmp.Or(due.since, d)))
	default:
		rule = w.Say("care_task.daily")
	}
	switch {
	case !first:
		return w.Say("care_task.rule", "rule", rule)
	case c.LastDone == nil:
		return w.Say("care_task.not_logged", "rule", rule)
	}
	return w.Say("care_task.last_done", "rule", rule, "date", w.date(*c.LastDone))
}

// date formats a date in short.
func (w wording) date(d models.Date) string {
	return w.ShortDate(d.At(12*60, w.setup.Site.Location()))
}

// holdsIce reports whether a station makes or holds ice for drinks.
func (w *sheetWriter) holdsIce(station string) bool {
	return station == stationBin ||
		slices.ContainsFunc(w.req.Ice.Makers, func(m models.IceMaker) bool { return m.Code == station && m.Treated }) ||
		slices.ContainsFunc(w.req.Ice.Moulds, func(m models.MouldSet) bool { return m.Code == station && m.Treated })
}
