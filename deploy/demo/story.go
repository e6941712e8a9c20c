// Package demo is an invented shop in an invented town: its set-up, four months of sales counts and weather, and a hot weekend
// ahead for which the ice machine is too small and the larger brewer is out of order on Sunday morning. Everything is derived
// from the given time: the same time gives the same story, and each week has the same one, shifted.
package demo

import (
	_ "embed"
	"time"

	"hotday/models"
)

//go:embed setup.json
var setupDocument []byte

// writtenFor is the Saturday that the dates in setup.json are relative to.
const writtenFor models.Date = "2026-07-11"

// historyDays is the number of days of counts before today: four months.
const historyDays = 122

// Source is the point of sale that the counts come from.
const Source = "till"

// Story is the shop at a given time.
type Story struct {
	Setup    models.Setup
	Now      time.Time
	Saturday models.Date // the hot weekend's first day
}

// At returns the story at now. Its weekend starts on the next Saturday on which setting up has not begun.
func At(now time.Time) (Story, error) {
	var s models.Setup
	if err := models.DecodeStrict(setupDocument, &s); err != nil {
		return Story{}, err
	}
	st := Story{Setup: s, Now: now, Saturday: weekendAfter(now, s.Site)}
	st.shiftLots()
	st.careFor()
	counted := st.countedAt()
	st.Setup.Ice.CountedAt, st.Setup.Ice.Plain.CountedAt = &counted, &counted
	for i := range st.Setup.Supplies {
		if x := &st.Setup.Supplies[i]; x.Stock != nil {
			x.CountedAt = &counted
		}
	}
	return st, nil
}

// eveningBefore is the hour of the Friday at which the shop plans its weekend.
const eveningBefore = 18

// On returns the story on the evening before its Saturday, and when a demo begins that is to begin at the given time: "09:30" on the
// Saturday of now or the next one, or a date and time, "2026-07-11T09:30", of which the Saturday is that of its weekend or the next one. A
// demo that begins before that evening has its story at its beginning.
func On(at string, now time.Time) (s Story, start time.Time, err error) {
	if s, err = At(now); err != nil {
		return s, start, err
	}
	loc := s.Setup.Site.Location()
	bad := models.Invalid("/at", "a time such as 09:30, or a date and time such as 2026-07-11T09:30", "%q is neither", at)
	saturday := models.DateOf(now, loc)
	start, err = time.ParseInLocation("2006-01-02T15:04", at, loc)
	timeOnly := err != nil
	if timeOnly {
		if start, err = time.ParseInLocation("15:04", at, loc); err != nil {
			return s, start, bad
		}
	} else {
		saturday = models.DateOf(start, loc)
		if saturday.Weekday() == time.Sunday {
			saturday = saturday.AddDays(-1)
		}
	}
	for saturday.Weekday() != time.Saturday {
		saturday = saturday.AddDays(1)
	}
	if timeOnly {
		start = saturday.At(start.Hour()*60+start.Minute(), loc)
	}
	evening := saturday.AddDays(-1).At(eveningBefore*60, loc)
	if start.Before(evening) {
		evening = start
	}
	s, err = At(evening)
	return s, start, err
}

func weekendAfter(now time.Time, site models.Site) models.Date {
	d := site.ServiceDayOf(now)
	for d.Weekday() != time.Saturday || !now.Before(site.StaffSpans(d)[0].From) {
		d = d.AddDays(1)
	}
	return d
}

// shiftLots moves the roast dates with the weekend.
func (s *Story) shiftLots() {
	by := writtenFor.DaysUntil(s.Saturday)
	for i := range s.Setup.Coffees {
		lots := s.Setup.Coffees[i].Lots
		for k := range lots {
			lots[k].RoastedOn = lots[k].RoastedOn.AddDays(by)
			if lots[k].FrozenOn != nil {
				on := lots[k].FrozenOn.AddDays(by)
				lots[k].FrozenOn = &on
			}
		}
	}
}

// careFor gives the shop the care of a new shop. The filters were changed and the condenser brushed weeks ago, the rest as it was due.
func (s *Story) careFor() {
	today := s.Setup.Site.ServiceDayOf(s.Now)
	s.Setup.Site.Care = models.NewShopCare("Left", "Bar maker", "20:00")
	for i := range s.Setup.Site.Care {
		c := &s.Setup.Site.Care[i]
		switch {
		case c.EveryDays > 0:
			c.LastDone = new(s.Saturday.AddDays(-20))
		case c.Weekday == "":
			c.LastDone = new(today.AddDays(-1))
		}
	}
}

// countedAt is the time of the latest stock count: two hours ago, rounded down to a quarter of an hour.
func (s *Story) countedAt() time.Time { return s.Now.Add(-2 * time.Hour).Truncate(15 * time.Minute) }

// day returns the number of days from the story's Saturday to d, which alone decides everything about the day.
func (s *Story) day(d models.Date) int { return s.Saturday.DaysUntil(d) }

// firstDay is the first day of the history.
func (s *Story) firstDay() models.Date {
	return models.DateOf(s.Now, s.Setup.Site.Location()).AddDays(-historyDays)
}
