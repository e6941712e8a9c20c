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
	"hotday/planner/say"
)

// Feed writes the sheets as events: one per brew, from its task to the time its batch is ready; one per batch to strain; and one per
// sheet, without a time of day, that lists the other tasks with theirs. The task's id is the event's UID and the sheet's revision its
// SEQUENCE, so a rescheduled brew moves in subscribed calendars. Skipped brews are cancelled, as are those in dropped: tasks of the
// same dates that a newer sheet no longer has. Times are UTC. Equal arguments give identical bytes.
func Feed(site models.Site, sheets []models.PrepSheet, dropped []models.DroppedTask) ([]byte, error) {
	voice := say.For(site)
	cal := ics.NewCalendarFor("hotday")
	cal.SetProductId("-//hotday//prep sheets//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName(plain(voice.Say("ical.name", "site", cmp.Or(site.Name, site.Code))))
	cal.SetXWRTimezone(site.Timezone)
	cal.SetRefreshInterval("PT15M")
	cal.SetXPublishedTTL("PT15M")
	var brews []brew
	for _, s := range sheets {
		for _, t := range s.Lines() {
			if ofBatch(t) {
				brews = append(brews, brew{Task: t, revision: s.Revision, at: s.PublishedAt, cancelled: t.State == models.Skipped})
			}
		}
	}
	for _, d := range dropped {
		if ofBatch(d.Task) && d.PartOf == "" && !slices.ContainsFunc(brews, func(b brew) bool { return b.ID == d.Task.ID }) {
			brews = append(brews, brew{Task: d.Task, revision: d.Revision, at: d.PublishedAt, cancelled: true})
		}
	}
	slices.SortStableFunc(brews, func(a, b brew) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	slot := max(time.Duration(site.SlotMin)*time.Minute, 10*time.Minute)
	for _, b := range brews {
		b.add(cal, voice, slot)
	}
	for _, s := range sheets {
		addOthers(cal, voice, s)
	}
	var out bytes.Buffer
	if err := cal.SerializeTo(&out, ics.WithNewLineWindows); err != nil {
		return nil, fmt.Errorf("write a calendar: %w", err)
	}
	return out.Bytes(), nil
}

// ofBatch reports whether a task has an event of its own.
func ofBatch(t models.Task) bool { return t.Kind == models.TaskBrew || t.Kind == models.TaskStrain }

// brew is a brew, or the straining of a batch, in the calendar.
type brew struct {
	models.Task
	revision  int
	at        time.Time // when its sheet was published
	cancelled bool
}

func (b brew) add(cal *ics.Calendar, voice say.Voice, slot time.Duration) {
	ev := cal.AddEvent(plain(b.ID) + "@hotday")
	ev.SetDtStampTime(b.at)
	ev.SetSequence(max(b.revision, 0))
	ev.SetStartAt(b.At)
	ev.SetEndAt(b.end(slot))
	ev.SetSummary(plain(done(voice, b.Task) + b.Say))
	ev.SetLocation(plain(b.Station))
	describe(ev, b.Why, b.Caution)
	status := ics.ObjectStatusConfirmed
	if b.cancelled {
		status = ics.ObjectStatusCancelled
	}
	ev.SetStatus(status)
	ev.SetTimeTransparency(ics.TransparencyTransparent) // does not count as busy time
}

// end is when the batch is ready; of one that steeps for hours, when hands are free again.
func (b brew) end(slot time.Duration) time.Time {
	if b.Kind == models.TaskBrew && b.Batch != nil && b.Batch.StrainAt.IsZero() && b.Batch.Ready.After(b.At) {
		return b.Batch.Ready
	}
	if b.Until.After(b.At) {
		return b.Until
	}
	return b.At.Add(slot)
}

// addOthers adds the event of the sheet's other tasks, if there are any.
func addOthers(cal *ics.Calendar, voice say.Voice, s models.PrepSheet) {
	date, err := time.Parse(time.DateOnly, string(s.Date))
	if err != nil {
		return // a sheet without a date has no day in a calendar
	}
	var lines []string
	for _, t := range s.Lines() {
		if ofBatch(t) || t.State == models.Skipped {
			continue
		}
		clock := voice.Clock(t.At)
		if models.DateOf(t.At, voice.Location()) != s.Date {
			clock = voice.ShortWeekday(t.At) + " " + clock
		}
		lines = append(lines, clock+" "+done(voice, t)+t.Say)
	}
	if len(lines) == 0 {
		return
	}
	ev := cal.AddEvent("prep-" + plain(string(s.Date)+"-"+s.Site) + "@hotday")
	ev.SetDtStampTime(s.PublishedAt)
	ev.SetSequence(max(s.Revision, 0))
	ev.SetAllDayStartAt(date)
	ev.SetAllDayEndAt(date.AddDate(0, 0, 1))
	ev.SetSummary(plain(voice.Say("ical.others", "n", len(lines), "day", voice.DayName(s.Date))))
	describe(ev, append(lines, s.Cautions...)...)
	ev.SetStatus(ics.ObjectStatusConfirmed)
	ev.SetTimeTransparency(ics.TransparencyTransparent)
}

// describe sets the description of an event to the texts that are not empty, a line each.
func describe(ev *ics.VEvent, texts ...string) {
	var lines []string
	for _, s := range texts {
		if s != "" {
			lines = append(lines, plain(s))
		}
	}
	if len(lines) > 0 {
		ev.SetDescription(strings.Join(lines, "\n"))
	}
}

// done marks the text of a task that is started or made: "(made) ".
func done(voice say.Voice, t models.Task) string {
	if t.State == models.Made || t.State == models.Started {
		return "(" + voice.Say("paper.state."+t.State) + ") "
	}
	return ""
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
