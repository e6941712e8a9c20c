package models

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestADayEndsWithItsLastDayPart(t *testing.T) {
	t.Parallel()
	s := Site{
		Timezone: "Europe/Berlin", SetupMin: 30,
		DayParts: []DayPart{{"evening", "17:00", "23:00"}, {"late", "23:00", "02:00"}},
		Opening:  []Opening{{Weekday: "sat", From: "17:00", To: "23:00"}},
	}
	assert.Equal(t, Date("2026-07-12").At(120, s.Location()), s.DayEnd("2026-07-11"), "the late part outlasts the opening hours")
	s.DayParts = s.DayParts[:1]
	assert.Equal(t, Date("2026-07-12").At(0, s.Location()), s.DayEnd("2026-07-11"), "midnight if everything ends before it")
}

func TestSplitHoursAreInTheOrderOfTheDay(t *testing.T) {
	t.Parallel()
	s := Site{Timezone: "Europe/Berlin", Opening: []Opening{
		{Weekday: "sat", From: "19:00", To: "22:00"}, {Weekday: "sat", From: "14:00", To: "18:00"}, {Weekday: "sat", From: "07:00", To: "11:00"},
	}}
	var starts []string
	for _, sp := range s.OpenSpans("2026-07-11") {
		starts = append(starts, sp.From.In(s.Location()).Format("15:04"))
	}
	assert.Equal(t, []string{"07:00", "14:00", "19:00"}, starts)
}

func TestAShopThatNeverClosesHasNoPartOfTheDayBefore(t *testing.T) {
	t.Parallel()
	s := berlin()
	assert.Equal(t, 0, s.PartStart(s.DayParts[0]), "open from 00:00: the night belongs to the date it is on")
	s.Opening = []Opening{{Weekday: "fri", From: "17:00", To: "01:00"}}
	assert.Equal(t, 1440, s.PartStart(s.DayParts[0]))
	assert.Equal(t, 1080, s.PartStart(s.DayParts[2]))
}
