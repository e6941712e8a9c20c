package models

import "time"

// Instants of documents, parameters and files run from FirstInstant, inclusive, to EndOfInstants, exclusive: what lies outside is a
// mistake, and calendars and durations hold everything inside.
var (
	FirstInstant  = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	EndOfInstants = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)
)

// InstantRange says in an error what ValidInstant accepts.
const InstantRange = "a time from 1970 to 2199"

// ValidInstant reports whether t is in the range of instants that the project takes from outside.
func ValidInstant(t time.Time) bool { return !t.Before(FirstInstant) && t.Before(EndOfInstants) }

// instants reads instants and remembers the last few: rows that stand together share them.
type instants struct {
	kept [4]struct {
		text string
		time time.Time
	}
	next int
}

func (r *instants) read(text []byte) (t time.Time, ok bool) {
	for i := range r.kept {
		if k := &r.kept[i]; k.text == string(text) && k.text != "" {
			return k.time, true
		}
	}
	if t.UnmarshalText(text) != nil {
		return t, false
	}
	k := &r.kept[r.next]
	k.text, k.time = string(text), t
	r.next = (r.next + 1) % len(r.kept)
	return t, true
}
