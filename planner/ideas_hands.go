package planner

import (
	"strings"
	"time"

	"hotday/models"
)

// personIdea adds a person on the day of a shortage, in the whole hours around it in which the people on shift have no time for another
// batch.
func (res *result) personIdea(s *subject) idea {
	span, ok := res.busySpan(s)
	if !ok {
		return idea{}
	}
	date := res.h.days[s.day]
	row := models.OnShift{Date: &date, From: clockOf(span.From), To: clockOf(span.To), OnShift: 1}
	return idea{action: res.q.Say("hands.person", "day", res.q.DayName(date), "from", res.q.Clock(span.From), "to", res.q.Clock(span.To)), change: func(r *models.PlanRequest) bool {
		r.Site.People = append(datedShifts(&r.Site, date), row)
		return true
	}}
}

// busySpan returns the hours from lookBackH before a shortage to its end, within the hours when people are there, without those at
// either end in which there is time for another batch.
func (res *result) busySpan(s *subject) (models.Span, bool) {
	if len(res.req.Site.People) == 0 {
		return models.Span{}, false
	}
	day := res.h.daySlots()[s.day]
	first, last := -1, -1
	for t := day[0]; t < day[1]; t++ {
		if res.result.Short[s.bev][t] > 0.5 {
			if first < 0 {
				first = t
			}
			last = t
		}
	}
	if first < 0 {
		return models.Span{}, false
	}
	span := models.Span{From: models.Later(res.h.at(max(day[0], first-int(lookBackH/res.h.hours()))), res.h.start), To: res.h.at(last + 1)}
	busy := models.Span{}
	for _, b := range res.halfHours() {
		if span.Contains(b.At) && b.FreeMin-b.UsedMin < res.least {
			if busy.From.IsZero() {
				busy.From = b.At
			}
			busy.To = b.At.Add(halfHour)
		}
	}
	if busy.Empty() {
		busy = span
	}
	busy.From, busy.To = busy.From.In(res.loc), busy.To.In(res.loc)
	busy.From = busy.From.Add(-time.Duration(busy.From.Minute()) * time.Minute)
	if m := busy.To.Minute(); m > 0 {
		busy.To = busy.To.Add(time.Duration(60-m) * time.Minute)
	}
	return busy, true
}

func clockOf(t time.Time) models.Clock { return models.Clock(t.Format("15:04")) }

// datedShifts returns a site's shifts with those of a date's weekday copied to the date, so that one more for the date adds to them.
func datedShifts(site *models.Site, date models.Date) []models.OnShift {
	out := append([]models.OnShift{}, site.People...)
	weekday := strings.ToLower(date.Weekday().String()[:3])
	for _, p := range site.People {
		if p.Date != nil && *p.Date == date {
			return out
		}
	}
	for _, p := range site.People {
		if p.Date == nil && p.Weekday == weekday {
			p.Weekday, p.Date = "", &date
			out = append(out, p)
		}
	}
	return out
}
