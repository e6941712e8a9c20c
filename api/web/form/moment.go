package form

import (
	"fmt"
	"strings"
	"time"

	"hotday/models"
)

// localDateTime is the format of datetime-local inputs; some browsers add seconds.
const localDateTime = "2006-01-02T15:04"

func (w Config) formatDateTime(doc any) string {
	text, _ := doc.(string)
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return ""
	}
	return t.In(w.Zone).Format(localDateTime)
}

// dateTime parses a local time in the zone. A time repeated by a clock change means the first occurrence.
func (r *reader) dateTime(text, pointer string) any {
	clock := strings.Replace(text, " ", "T", 1)
	t, err := time.Parse(localDateTime, clock[:min(len(clock), len(localDateTime))])
	if err == nil {
		t = models.DateOf(t, time.UTC).At(60*t.Hour()+t.Minute(), r.Zone)
	}
	if err != nil || !models.ValidInstant(t) {
		r.raw[pointer] = text
		r.wrong = append(r.wrong, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf("%q cannot be read", text), Accepted: "a date and a time such as 2026-07-11 14:30", Rule: RuleDateTime})
		return nil
	}
	return t.Format(time.RFC3339)
}
