// Package demo is an invented shop in an invented town: its set-up, four months of sales counts and weather, and a hot weekend
// ahead in which the ice maker is too small and the larger brewer is out on Sunday morning. Everything follows from the clock
// it is given: the same clock gives the same story, and every week tells the same one, shifted.
package demo

import (
	_ "embed"
	"time"

	"hotday/models"
)

//go:embed setup.json
var setupDocument []byte

// writtenFor is the Saturday that the dates in setup.json stand around.
const writtenFor models.Date = "2026-07-11"

// historyDays is the season of counts before today: four months.
const historyDays = 122

// Source is the point of sale that the counts come from.
const Source = "till"

// Story is the shop around a clock.
type Story struct {
	Setup    models.Setup
	Now      time.Time
	Saturday models.Date // the hot weekend's first day
}

// At tells the story as it stands at now: the weekend is that of the next Saturday on which setting up has not begun.
func At(now time.Time) (Story, error) {
	var s models.Setup
	if err := models.DecodeStrict(setupDocument, &s); err != nil {
		return Story{}, err
	}
	st := Story{Setup: s, Now: now, Saturday: weekendAfter(now, s.Site)}
	st.shiftLots()
	counted := st.countedAt()
	st.Setup.Ice.CountedAt, st.Setup.Ice.Plain.CountedAt = &counted, &counted
	return st, nil
}

func weekendAfter(now time.Time, site models.Site) models.Date {
	d := site.ServiceDayOf(now)
	for d.Weekday() != time.Saturday || !now.Before(site.PeopleSpans(d)[0].From) {
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

// countedAt is when somebody last looked into the bins: two hours ago, to the quarter.
func (s *Story) countedAt() time.Time { return s.Now.Add(-2 * time.Hour).Truncate(15 * time.Minute) }

// day returns the number of days from the Saturday of the story to d: what happens on a day follows from it alone.
func (s *Story) day(d models.Date) int { return s.Saturday.DaysUntil(d) }

// firstDay is the oldest day of the history.
func (s *Story) firstDay() models.Date {
	return models.DateOf(s.Now, s.Setup.Site.Location()).AddDays(-historyDays)
}
