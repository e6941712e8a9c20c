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

// reader parses rows of text.
type reader struct {
	zone         *time.Location
	now          time.Time
	out          File
	columnIndex  [4]int // field index of each column
	width        int    // number of fields in the heading
	decimalComma bool   // the decimal separator is a comma
	dateCells    bool   // a number in a time column is a date cell
	epoch1904    bool   // date cells count from 1904

	headingRead bool
	times       [2]timeReader
	seen        map[countKey]int // index into out.Rows
	tally
}

// countKey identifies a count within a file.
type countKey struct {
	item     string
	from, to int64
}

// tally counts rows for the notes.
type tally struct{ repeatedHour, skippedHour, skippedEmpty, duplicates int }

func newReader(form string, o Options) *reader {
	zone := o.Zone
	if zone == nil {
		zone = time.UTC
	}
	return &reader{zone: zone, now: o.Now, seen: map[countKey]int{}, out: File{Form: form, Headings: []Heading{}, Ignored: []string{}, Errors: []RowError{}, Notes: []string{}}}
}

func (r *reader) addError(row int, column, accepted, format string, args ...any) {
	if len(r.out.Errors) == MaxErrors {
		r.out.ErrorsLeftOut++
		return
	}
	r.out.Errors = append(r.out.Errors, RowError{Row: row, Column: column, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
}

// readRow reads one row; the first non-blank one is the heading. more is false if the rest cannot be read.
func (r *reader) readRow(row int, fields []string) (more bool, err error) {
	if isBlank(fields) {
		return true, nil
	}
	if !r.headingRead {
		r.headingRead = true
		return r.readHeading(row, fields), nil
	}
	if r.out.RowCount++; r.out.RowCount > MaxRows {
		return false, tooManyRows()
	}
	r.readCount(row, fields)
	return true, nil
}

func isBlank(fields []string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

func (r *reader) readCount(row int, fields []string) {
	if len(fields) > r.width && !isBlank(fields[r.width:]) {
		r.addError(row, "", "as many fields as the heading, a field with the separator in it in double quotes", "the row has %d fields, the heading %d", len(fields), r.width)
		return
	}
	var text [4]string
	for c, at := range r.columnIndex {
		if at < len(fields) {
			text[c] = strings.TrimSpace(fields[at])
		}
	}
	before := len(r.out.Errors) + r.out.ErrorsLeftOut
	item := r.item(row, text[itemColumn])
	start := r.time(row, startColumn, text[startColumn])
	end := r.time(row, endColumn, text[endColumn])
	n := r.number(row, text[countColumn])
	if len(r.out.Errors)+r.out.ErrorsLeftOut > before {
		return
	}
	r.add(row, item, start, end, n)
}

// add adds a parsed row, unless it is invalid or conflicts with an earlier row.
func (r *reader) add(row int, item string, start, end localTime, n float64) {
	w := windowOf(start, end, r.zone)
	if w.skipped && !w.to.After(w.from) {
		if n > 0 {
			r.addError(row, ColumnStart, "times that exist, or times with an offset", "the time from %s to %s is skipped by the clock change in %s", start, end, r.zone)
			return
		}
		r.skippedEmpty++ // reports that list every quarter of an hour include it
		return
	}
	k := countKey{item, w.from.UnixMilli(), w.to.UnixMilli()}
	first, twice := r.seen[k]
	if twice && w.second != nil { // the window occurs twice, and the first is taken
		w.from, w.to = w.second[0], w.second[1]
		k = countKey{item, w.from.UnixMilli(), w.to.UnixMilli()}
		first, twice = r.seen[k]
	}
	c := models.SalesCount{Item: item, WindowStart: w.from.In(r.zone), WindowEnd: w.to.In(r.zone), Count: n}
	if err := c.Validate(); err != nil {
		r.addRuleErrors(row, err)
		return
	}
	if latest := r.now.Add(models.MaxAhead); !r.now.IsZero() && w.from.After(latest) {
		r.addError(row, ColumnStart, "a time up to "+latest.In(r.zone).Format("2006-01-02 15:04"), "%s is in the future", start)
		return
	}
	if twice {
		if was := &r.out.Rows[first]; was.Count != n {
			r.addError(row, "", "each item once per window; add up the counts of several tills, or send each under its own source",
				"same item and window as row %d, but count %g instead of %g", was.Row, n, was.Count)
			return
		}
		r.duplicates++
		return
	}
	if w.repeated {
		r.repeatedHour++
	}
	if w.skipped {
		r.skippedHour++
	}
	r.seen[k] = len(r.out.Rows)
	r.out.Rows = append(r.out.Rows, Row{Row: row, SalesCount: c})
}

// addRuleErrors converts validation errors of a count to errors of its row.
func (r *reader) addRuleErrors(row int, err error) {
	var e *models.Error
	if !errors.As(err, &e) {
		r.addError(row, "", "", "%v", err)
		return
	}
	for _, f := range e.Fields {
		column := strings.TrimPrefix(strings.TrimPrefix(f.Pointer, "/"), "window_")
		r.addError(row, column, strings.NewReplacer("window_start", "the start", "window_end", "the end").Replace(f.Accepted), "%s", f.Detail)
	}
}

const maxItemBytes = 200 // as in models.SalesCount

func (r *reader) item(row int, s string) string {
	switch {
	case s == "":
		r.addError(row, ColumnItem, "the item's name or code in the till", "the item is empty")
	case len(s) > maxItemBytes:
		r.addError(row, ColumnItem, "1 to 200 characters", "the item %s is %d characters long", quote(s), len(s))
	case strings.ContainsFunc(s, unicode.IsControl):
		r.addError(row, ColumnItem, "text without control characters", "the item %s contains a control character", quote(s))
	}
	return s
}

func (r *reader) time(row, c int, s string) localTime {
	if s == "" {
		r.addError(row, columns[c], acceptedTime, "the time is empty")
		return localTime{}
	}
	w, err := r.times[c-startColumn].read(s, r)
	if err != nil {
		r.addError(row, columns[c], acceptedTime, "%v", err)
	}
	return w
}

// number parses a count. If the decimal separator is a comma, 1.500 could mean 1.5 or 1500 and is refused.
func (r *reader) number(row int, s string) float64 {
	accepted := "0 to 1000000, written 1500 or 1.5"
	if r.decimalComma {
		accepted = "0 to 1000000, written 1500 or 1,5"
	}
	if s == "" {
		r.addError(row, ColumnCount, accepted+"; 0 if nothing was sold", "the count is empty")
		return 0
	}
	plain := s
	whole, part, dotted := strings.Cut(s, ".")
	if r.decimalComma {
		if dotted && (strings.ContainsAny(part, ".,") || len(part) == 3 && strings.Trim(whole, "0") != "") {
			r.addError(row, ColumnCount, accepted+", without a thousands separator", "%s is ambiguous", quote(s))
			return 0
		}
		plain = strings.Replace(s, ",", ".", 1)
	}
	n, err := strconv.ParseFloat(plain, 64)
	if err != nil || strings.Trim(plain, "0123456789.+-eE") != "" {
		r.addError(row, ColumnCount, accepted, "%s is not a number", quote(s))
		return 0
	}
	return n
}

// finish adds the notes.
func (r *reader) finish() (File, error) {
	if !r.headingRead {
		return File{}, malformed("the file is empty; its first row must have the headings item, start, end and count")
	}
	note := func(n int, condition, decision string) {
		switch n {
		case 0:
		case 1:
			r.out.Notes = append(r.out.Notes, "1 row "+condition+": "+decision)
		default:
			r.out.Notes = append(r.out.Notes, fmt.Sprintf("%d rows %s: %s", n, condition, decision))
		}
	}
	note(r.repeatedHour, fmt.Sprintf("in the hour repeated by the clock change in %s", r.zone),
		"read as the first occurrence, and as the second if the same window is repeated. Use times with an offset to be exact.")
	note(r.skippedHour, fmt.Sprintf("with a time skipped by the clock change in %s", r.zone), "moved to the moment of the change.")
	note(r.skippedEmpty, fmt.Sprintf("with count 0 entirely in the hour skipped by the clock change in %s", r.zone), "left out.")
	note(r.duplicates, "the same as an earlier row", "imported once.")
	return r.out, nil
}

const maxShownRunes = 40 // characters of a field in a message

func truncate(s string) string {
	s = strings.ToValidUTF8(s, "?")
	n := 0
	for i := range s {
		if n++; n > maxShownRunes {
			return s[:i] + "…"
		}
	}
	return s
}

func quote(s string) string { return strconv.Quote(truncate(s)) }
