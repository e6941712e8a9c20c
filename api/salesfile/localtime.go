package salesfile

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

const acceptedTime = "2026-07-11T14:00:00+02:00, or local time as 2026-07-11 14:00 or 11.07.2026 14:00"

// localTime is a time as written in a file: with an offset it is exact, else it is local time at the site, stored as if in UTC.
type localTime struct {
	t     time.Time
	exact bool
}

func (w localTime) String() string {
	if w.exact {
		return w.t.Format(time.RFC3339)
	}
	return w.t.Format("2006-01-02 15:04")
}

var exactLayouts = []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02 15:04:05 Z07:00"}

var localLayouts = []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05", "2.1.2006 15:04", "2.1.2006 15:04:05",
	"2006/1/2 15:04", "2006/1/2 15:04:05", "2006-01-02", "2.1.2006", "2006/1/2"}

// timeReader parses a column of times. It caches the last value, since consecutive rows usually share their window, and tries the
// last layout first, since a file usually has only one.
type timeReader struct {
	text   string
	last   localTime
	layout string
}

func (t *timeReader) read(s string, r *reader) (localTime, error) {
	if s == t.text {
		return t.last, nil
	}
	w, err := t.parse(s, r)
	if err == nil {
		t.text, t.last = s, w
	}
	return w, err
}

func (t *timeReader) parse(s string, r *reader) (localTime, error) {
	if r.dateCells {
		if days, err := strconv.ParseFloat(s, 64); err == nil {
			return fromSerial(days, r.epoch1904)
		}
	}
	if len(s) > 40 {
		return localTime{}, fmt.Errorf("%s is not a time", quote(s))
	}
	for _, layout := range exactLayouts {
		if x, err := time.Parse(layout, s); err == nil {
			return localTime{t: x, exact: true}, nil
		}
	}
	day := 0
	if at := strings.Index(s, "24:00"); at > 0 && (s[at-1] == ' ' || s[at-1] == 'T') { // the end of a day
		s, day = s[:at]+"00:00"+s[at+5:], 1
	}
	if x, err := time.Parse(t.layout, s); err == nil && t.layout != "" {
		return localTime{t: x.AddDate(0, 0, day)}, nil
	}
	for _, layout := range localLayouts {
		if x, err := time.Parse(layout, s); err == nil {
			t.layout = layout
			return localTime{t: x.AddDate(0, 0, day)}, nil
		}
	}
	if head, _, _ := strings.Cut(s, " "); strings.Count(head, "/") == 2 {
		return localTime{}, fmt.Errorf("%s is ambiguous: day or month first", quote(s))
	}
	return localTime{}, fmt.Errorf("%s is not a time", quote(s))
}

// Serial days of the years that a count may have.
const minSerial, maxSerial = 30_000, 110_000

// fromSerial converts a date cell, days since the workbook's epoch with the time of day as the fraction, rounded to seconds.
func fromSerial(days float64, epoch1904 bool) (localTime, error) {
	if !(days >= minSerial && days <= maxSerial) {
		return localTime{}, fmt.Errorf("the number %g is not a date cell of the years 1990 to 2200", days)
	}
	x, err := excelize.ExcelDateToTime(days, epoch1904)
	if err != nil {
		return localTime{}, fmt.Errorf("the number %g is not a date cell", days)
	}
	return localTime{t: x.Round(time.Second)}, nil
}

// instants returns the instants at which the zone's local time is w: two in a repeated hour; in a skipped hour, the moment of the
// change.
func (w localTime) instants(zone *time.Location) (at []time.Time, skipped bool) {
	if w.exact {
		return []time.Time{w.t.UTC()}, false
	}
	const far = 26 * time.Hour // beyond any clock change that could affect the day
	offset := func(t time.Time) time.Duration {
		_, s := t.In(zone).Zone()
		return time.Duration(s) * time.Second
	}
	before, after := offset(w.t.Add(-far)), offset(w.t.Add(far))
	for _, o := range []time.Duration{before, after} {
		if t := w.t.Add(-o); offset(t) == o && (len(at) == 0 || !at[0].Equal(t)) {
			at = append(at, t)
		}
	}
	if len(at) > 0 {
		return at, false
	}
	change, _ := w.t.Add(-before).In(zone).ZoneBounds() // at the old offset, w is after the change
	return []time.Time{change.UTC()}, true
}

// window is the window of a row.
type window struct {
	from, to          time.Time
	repeated, skipped bool
	second            *[2]time.Time // the second occurrence, an hour later
}

// windowOf resolves a start and an end. If either occurs twice, it chooses the pair as long as the local times differ, else the
// shortest pair of positive length; of two such, the earlier.
func windowOf(start, end localTime, zone *time.Location) window {
	froms, skipFrom := start.instants(zone)
	tos, skipTo := end.instants(zone)
	w := window{from: froms[0], to: tos[0], skipped: skipFrom || skipTo, repeated: len(froms)+len(tos) > 2}
	if !w.repeated {
		return w
	}
	long, best := end.t.Sub(start.t), time.Duration(0)
	if start.exact || end.exact { // the difference in local time is unknown
		long = 0
	}
	for _, a := range froms { // in chronological order
		for _, b := range tos {
			d := b.Sub(a)
			switch {
			case d <= 0:
			case best > 0 && d == best && w.second == nil && a.After(w.from):
				w.second = &[2]time.Time{a, b}
			case best == 0 || best != long && (d == long || d < best):
				w.from, w.to, best, w.second = a, b, d, nil
			}
		}
	}
	return w
}
