package form

import (
	"fmt"
	"strings"
	"time"

	"hotday/models"
)

// wallClock is how browsers send a date with a time of day; some add seconds.
const wallClock = "2006-01-02T15:04"

func (w Way) shownMoment(doc any) string {
	text, _ := doc.(string)
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return ""
	}
	return t.In(w.Zone).Format(wallClock)
}

// moment reads a wall-clock time of the zone. One that a change of clocks repeats is the first of the two.
func (r *reader) moment(text, pointer string) any {
	clock := strings.Replace(text, " ", "T", 1)
	t, err := time.Parse(wallClock, clock[:min(len(clock), len(wallClock))])
	if err == nil {
		t = models.DateOf(t, time.UTC).At(60*t.Hour()+t.Minute(), r.Zone)
	}
	if err != nil || !models.ValidInstant(t) {
		r.raw[pointer] = text
		r.wrong = append(r.wrong, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf("%q cannot be read", text), Accepted: "a date and a time such as 2026-07-11 14:30"})
		return nil
	}
	return t.Format(time.RFC3339)
}
