package salesfile

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"hotday/models"
)

// reader turns rows of text into counts.
type reader struct {
	zone      *time.Location
	out       File
	at        [4]int // index of each column
	width     int    // fields of the heading
	comma     bool   // a comma is the decimal sign
	serial    bool   // a number in a column of times is a day count of a workbook
	epoch1904 bool   // its days count from 1904

	headed bool
	times  [2]timeReader
	seen   map[key]int // index in out.Rows
	tally
}

// key is what a count is known by, within a file.
type key struct {
	item     string
	from, to int64
}

// tally counts what is told of the whole file.
type tally struct{ repeated, skipped, empty, doubled int }

func newReader(form string, o Options) *reader {
	zone := o.Zone
	if zone == nil {
		zone = time.UTC
	}
	return &reader{zone: zone, seen: map[key]int{}, out: File{Form: form, Headings: []Heading{}, Ignored: []string{}, Faults: []Fault{}, Notes: []string{}}}
}

func (r *reader) fault(row int, column, accepted, format string, args ...any) {
	if len(r.out.Faults) == MaxFaults {
		r.out.LeftOut++
		return
	}
	r.out.Faults = append(r.out.Faults, Fault{Row: row, Column: column, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
}

// take reads one row of the file; the first that says something is the heading. more is false where the rest cannot be read.
func (r *reader) take(row int, fields []string) (more bool, err error) {
	if blank(fields) {
		return true, nil
	}
	if !r.headed {
		r.headed = true
		return r.heading(row, fields), nil
	}
	if r.out.Read++; r.out.Read > MaxRows {
		return false, tooManyRows()
	}
	r.count(row, fields)
	return true, nil
}

func blank(fields []string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

func (r *reader) count(row int, fields []string) {
	if len(fields) > r.width && !blank(fields[r.width:]) {
		r.fault(row, "", "as many fields as the heading, a field with the separator in it in double quotes", "the row has %d fields, the heading %d", len(fields), r.width)
		return
	}
	var text [4]string
	for c, at := range r.at {
		if at < len(fields) {
			text[c] = strings.TrimSpace(fields[at])
		}
	}
	before := len(r.out.Faults) + r.out.LeftOut
	item := r.item(row, text[atItem])
	start := r.time(row, atStart, text[atStart])
	end := r.time(row, atEnd, text[atEnd])
	n := r.number(row, text[atCount])
	if len(r.out.Faults)+r.out.LeftOut > before {
		return
	}
	r.add(row, item, start, end, n)
}

// add puts a readable row to the others, if the rules of a count and the rows before let it.
func (r *reader) add(row int, item string, start, end wall, n float64) {
	w := windowOf(start, end, r.zone)
	if w.skipped && !w.to.After(w.from) {
		if n > 0 {
			r.fault(row, ColumnStart, "times that exist, or times with an offset", "the clock of %s skips the time from %s to %s", r.zone, start, end)
			return
		}
		r.empty++ // a report that lists every quarter lists this one too
		return
	}
	k := key{item, w.from.UnixMilli(), w.to.UnixMilli()}
	first, twice := r.seen[k]
	if twice && w.again != nil { // the clock shows this window twice, and the first is there
		w.from, w.to = w.again[0], w.again[1]
		k = key{item, w.from.UnixMilli(), w.to.UnixMilli()}
		first, twice = r.seen[k]
	}
	c := models.SalesCount{Item: item, WindowStart: w.from.In(r.zone), WindowEnd: w.to.In(r.zone), Count: n}
	if err := c.Validate(); err != nil {
		r.refuse(row, err)
		return
	}
	if twice {
		if was := &r.out.Rows[first]; was.Count != n {
			r.fault(row, "", "each item once a window; add the counts of several tills up, or send them under a source each",
				"the item and window of row %d again, with the count %g instead of %g", was.Row, n, was.Count)
			return
		}
		r.doubled++
		return
	}
	if w.repeated {
		r.repeated++
	}
	if w.skipped {
		r.skipped++
	}
	r.seen[k] = len(r.out.Rows)
	r.out.Rows = append(r.out.Rows, Row{Row: row, SalesCount: c})
}

// refuse turns broken rules of a count into faults of its row.
func (r *reader) refuse(row int, err error) {
	var e *models.Error
	if !errors.As(err, &e) {
		r.fault(row, "", "", "%v", err)
		return
	}
	for _, f := range e.Fields {
		column := strings.TrimPrefix(strings.TrimPrefix(f.Pointer, "/"), "window_")
		r.fault(row, column, strings.NewReplacer("window_start", "the start", "window_end", "the end").Replace(f.Accepted), "%s", f.Detail)
	}
}

const mostItem = 200 // bytes, as models.SalesCount has it

func (r *reader) item(row int, s string) string {
	switch {
	case s == "":
		r.fault(row, ColumnItem, "the item's name or code as the till has it", "the item is empty")
	case len(s) > mostItem:
		r.fault(row, ColumnItem, "1 to 200 characters", "the item %s is %d characters long", quoted(s), len(s))
	case strings.ContainsFunc(s, unicode.IsControl):
		r.fault(row, ColumnItem, "text without control characters", "the item %s holds a character that cannot be printed", quoted(s))
	}
	return s
}

func (r *reader) time(row, c int, s string) wall {
	if s == "" {
		r.fault(row, columns[c], acceptedTime, "the time is empty")
		return wall{}
	}
	w, err := r.times[c-atStart].read(s, r)
	if err != nil {
		r.fault(row, columns[c], acceptedTime, "%v", err)
	}
	return w
}

// number reads a count. Where the decimal sign is a comma, 1.500 may be one and a half or fifteen hundred: it is refused.
func (r *reader) number(row int, s string) float64 {
	accepted := "0 to 1000000, written 1500 or 1.5"
	if r.comma {
		accepted = "0 to 1000000, written 1500 or 1,5"
	}
	if s == "" {
		r.fault(row, ColumnCount, accepted+"; 0 where nothing was sold", "the count is empty")
		return 0
	}
	plain := s
	whole, part, dotted := strings.Cut(s, ".")
	if r.comma {
		if dotted && (strings.ContainsAny(part, ".,") || len(part) == 3 && strings.Trim(whole, "0") != "") {
			r.fault(row, ColumnCount, accepted+", without a sign between the thousands", "%s can be read in two ways", quoted(s))
			return 0
		}
		plain = strings.Replace(s, ",", ".", 1)
	}
	n, err := strconv.ParseFloat(plain, 64)
	if err != nil || strings.Trim(plain, "0123456789.+-eE") != "" {
		r.fault(row, ColumnCount, accepted, "%s is no number", quoted(s))
		return 0
	}
	return n
}

// done adds what is told of the whole file.
func (r *reader) done() (File, error) {
	if !r.headed {
		return File{}, malformed("the file is empty; its first row names the columns item, start, end and count")
	}
	note := func(n int, what, then string) {
		switch n {
		case 0:
		case 1:
			r.out.Notes = append(r.out.Notes, what+": 1 row. "+then)
		default:
			r.out.Notes = append(r.out.Notes, fmt.Sprintf("%s: %d rows. %s", what, n, then))
		}
	}
	note(r.repeated, fmt.Sprintf("In an hour that the clock of %s shows twice", r.zone),
		"The first of the two is meant, and the second where a row says the same window again. Times with an offset leave no doubt.")
	note(r.skipped, fmt.Sprintf("With a time that the clock of %s skips", r.zone), "The moment of the change is taken for it.")
	note(r.empty, fmt.Sprintf("Wholly in an hour that the clock of %s skips, and counting nothing", r.zone), "Left out.")
	note(r.doubled, "The same as a row before", "Taken once.")
	return r.out, nil
}

const mostShown = 40 // characters of a field in a message

func short(s string) string {
	s = strings.ToValidUTF8(s, "?")
	n := 0
	for i := range s {
		if n++; n > mostShown {
			return s[:i] + "…"
		}
	}
	return s
}

func quoted(s string) string { return strconv.Quote(short(s)) }
