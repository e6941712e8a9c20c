package salesfile

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

const acceptedTime = "2026-07-11T14:00:00+02:00, or by the clock on the site's wall 2026-07-11 14:00 or 11.07.2026 14:00"

// wall is a time as a file says it: an instant where it has an offset, else what the site's clock shows, kept as if in UTC.
type wall struct {
	t     time.Time
	exact bool
}

func (w wall) String() string {
	if w.exact {
		return w.t.Format(time.RFC3339)
	}
	return w.t.Format("2006-01-02 15:04")
}

var exactLayouts = []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02 15:04:05 Z07:00"}

var wallLayouts = []string{"2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05", "2.1.2006 15:04", "2.1.2006 15:04:05",
	"2006/1/2 15:04", "2006/1/2 15:04:05", "2006-01-02", "2.1.2006", "2006/1/2"}

// timeReader reads a column of times. Rows of one window stand together, so the last one is remembered; and a file writes all
// its times in one way, so the layout that fitted last is tried first.
type timeReader struct {
	text   string
	last   wall
	layout string
}

func (t *timeReader) read(s string, r *reader) (wall, error) {
	if s == t.text {
		return t.last, nil
	}
	w, err := t.parse(s, r)
	if err == nil {
		t.text, t.last = s, w
	}
	return w, err
}

func (t *timeReader) parse(s string, r *reader) (wall, error) {
	if r.serial {
		if days, err := strconv.ParseFloat(s, 64); err == nil {
			return fromSerial(days, r.epoch1904)
		}
	}
	if len(s) > 40 {
		return wall{}, fmt.Errorf("%s is no time", quoted(s))
	}
	for _, layout := range exactLayouts {
		if x, err := time.Parse(layout, s); err == nil {
			return wall{t: x, exact: true}, nil
		}
	}
	day := 0
	if at := strings.Index(s, "24:00"); at > 0 && (s[at-1] == ' ' || s[at-1] == 'T') { // the end of a day
		s, day = s[:at]+"00:00"+s[at+5:], 1
	}
	if x, err := time.Parse(t.layout, s); err == nil && t.layout != "" {
		return wall{t: x.AddDate(0, 0, day)}, nil
	}
	for _, layout := range wallLayouts {
		if x, err := time.Parse(layout, s); err == nil {
			t.layout = layout
			return wall{t: x.AddDate(0, 0, day)}, nil
		}
	}
	if head, _, _ := strings.Cut(s, " "); strings.Count(head, "/") == 2 {
		return wall{}, fmt.Errorf("%s does not say whether the day or the month comes first", quoted(s))
	}
	return wall{}, fmt.Errorf("%s is no time", quoted(s))
}

// Days of a workbook's calendar that fall into the years that a count may have.
const leastSerial, mostSerial = 30_000, 110_000

// fromSerial reads a date cell: days since the workbook's epoch, the time of day as fraction. Cells hold about a microsecond;
// they are meant to the second.
func fromSerial(days float64, epoch1904 bool) (wall, error) {
	if !(days >= leastSerial && days <= mostSerial) {
		return wall{}, fmt.Errorf("the number %g is no date cell of the years 1990 to 2200", days)
	}
	x, err := excelize.ExcelDateToTime(days, epoch1904)
	if err != nil {
		return wall{}, fmt.Errorf("the number %g is no date cell", days)
	}
	return wall{t: x.Round(time.Second)}, nil
}

// instants are the moments at which a clock of the zone shows w: two in a repeated hour. In a skipped one there is none: then it
// is the moment of the change.
func (w wall) instants(zone *time.Location) (at []time.Time, skipped bool) {
	if w.exact {
		return []time.Time{w.t.UTC()}, false
	}
	const far = 26 * time.Hour // beyond any change that could touch the day
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
	change, _ := w.t.Add(-before).In(zone).ZoneBounds() // by the old clock it lies after the change
	return []time.Time{change.UTC()}, true
}

// window is the span that a row means.
type window struct {
	from, to          time.Time
	repeated, skipped bool
	again             *[2]time.Time // the same by the clock, an hour later
}

// windowOf finds the instants of a start and an end. Where the clock shows one of them twice, the pair is meant that is as long
// as the clock says, else the shortest that is longer than nothing; the earlier of two such.
func windowOf(start, end wall, zone *time.Location) window {
	froms, skipFrom := start.instants(zone)
	tos, skipTo := end.instants(zone)
	w := window{from: froms[0], to: tos[0], skipped: skipFrom || skipTo, repeated: len(froms)+len(tos) > 2}
	if !w.repeated {
		return w
	}
	long, best := end.t.Sub(start.t), time.Duration(0)
	if start.exact || end.exact { // the clock's difference is not known
		long = 0
	}
	for _, a := range froms { // in order of time
		for _, b := range tos {
			d := b.Sub(a)
			switch {
			case d <= 0:
			case best > 0 && d == best && w.again == nil && a.After(w.from):
				w.again = &[2]time.Time{a, b}
			case best == 0 || best != long && (d == long || d < best):
				w.from, w.to, best, w.again = a, b, d, nil
			}
		}
	}
	return w
}
