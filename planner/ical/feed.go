// Package ical writes prep sheets as an iCalendar feed (RFC 5545) to subscribe to.
package ical

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"hotday/models"
	"hotday/planner/say/words"
)

// Feed writes the tasks of the sheets as events, in order of time. The task's id is the event's UID and the sheet's revision its
// SEQUENCE, so a rescheduled task moves in subscribed calendars. Skipped tasks are cancelled, as are those in dropped: tasks of
// the same dates that a newer sheet no longer has. Times are UTC. Equal arguments give identical bytes.
func Feed(site models.Site, sheets []models.PrepSheet, dropped []models.DroppedTask) ([]byte, error) {
	say := words.In(site.Language)
	cal := ics.NewCalendarFor("hotday")
	cal.SetProductId("-//hotday//prep sheets//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName(plain(say.Say("ical.name", "site", cmp.Or(site.Name, site.Code))))
	cal.SetXWRTimezone(site.Timezone)
	cal.SetRefreshInterval("PT15M", ics.WithValue("DURATION"))
	cal.SetXPublishedTTL("PT15M")
	var events []event
	for _, s := range sheets {
		for _, t := range s.Lines() {
			events = append(events, event{Task: t, revision: s.Revision, at: s.PublishedAt, cancelled: t.State == models.Skipped})
		}
	}
	for _, d := range dropped {
		if d.PartOf == "" && !slices.ContainsFunc(events, func(e event) bool { return e.ID == d.Task.ID }) {
			events = append(events, event{Task: d.Task, revision: d.Revision, at: d.PublishedAt, cancelled: true})
		}
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	length := max(time.Duration(site.SlotMin)*time.Minute, 10*time.Minute)
	for _, e := range events {
		e.add(cal, say, length)
	}
	var out bytes.Buffer
	if err := cal.SerializeTo(&out, ics.WithNewLineWindows); err != nil {
		return nil, fmt.Errorf("write a calendar: %w", err)
	}
	return out.Bytes(), nil
}

// event is a task in the calendar.
type event struct {
	models.Task
	revision  int
	at        time.Time // when its sheet was published
	cancelled bool
}

func (e event) add(cal *ics.Calendar, say *words.Catalogue, length time.Duration) {
	ev := cal.AddEvent(plain(e.ID) + "@hotday")
	ev.SetDtStampTime(e.at)
	ev.SetSequence(max(e.revision, 0))
	ev.SetStartAt(e.At)
	ev.SetEndAt(e.At.Add(length))
	ev.SetSummary(plain(e.summary(say)))
	ev.SetLocation(plain(e.Station))
	var more []string
	for _, s := range []string{e.Why, e.Caution} {
		if s != "" {
			more = append(more, plain(s))
		}
	}
	if len(more) > 0 {
		ev.SetDescription(strings.Join(more, "\n"))
	}
	status := ics.ObjectStatusConfirmed
	if e.cancelled {
		status = ics.ObjectStatusCancelled
	}
	ev.SetStatus(status)
	ev.SetTimeTransparency(ics.TransparencyTransparent) // does not count as busy time
}

// summary is the task's instruction, marked once it is started or done.
func (e event) summary(say *words.Catalogue) string {
	if e.State == models.Made || e.State == models.Started {
		return "(" + say.Say("paper.state."+e.State) + ") " + e.Say
	}
	return e.Say
}

// plain replaces characters that are not allowed in a content line: control characters and invalid UTF-8.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}
