package salesfile

import (
	"slices"
	"strings"
)

var columns = [4]string{ColumnItem, ColumnStart, ColumnEnd, ColumnCount}

const (
	itemColumn = iota
	startColumn
	endColumn
	countColumn
)

// headingNames are the accepted headings of each column, normalised. The API contract lists them too.
var headingNames = [4][]string{
	{"item", "item name", "item code", "article", "product", "sku", "plu"},
	{"start", "start time", "from", "begin", "window start"},
	{"end", "end time", "to", "until", "window end"},
	{"count", "quantity", "qty", "sold", "units"},
}

func normaliseHeading(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '_' || r == '-' }), " ")
}

// columnOf returns the column of a heading, -1 if unknown.
func columnOf(heading string) int {
	h := normaliseHeading(heading)
	return slices.IndexFunc(headingNames[:], func(names []string) bool { return slices.Contains(names, h) })
}

// knownColumns counts the distinct columns in a row of headings.
func knownColumns(fields []string) int {
	var seen [4]bool
	n := 0
	for _, f := range fields {
		if c := columnOf(f); c >= 0 && !seen[c] {
			seen[c] = true
			n++
		}
	}
	return n
}

// readHeading reads the first non-blank row. ok is false if a column is missing or duplicated.
func (r *reader) readHeading(row int, fields []string) (ok bool) {
	r.columnIndex = [4]int{-1, -1, -1, -1}
	for i, f := range fields {
		c := columnOf(f)
		switch {
		case c < 0:
			if strings.TrimSpace(f) != "" {
				r.out.Ignored = append(r.out.Ignored, truncate(f))
			}
		case r.columnIndex[c] >= 0:
			r.addError(row, columns[c], "one column headed "+columns[c], "%s and %s are both headings of it", quote(fields[r.columnIndex[c]]), quote(f))
		default:
			r.columnIndex[c] = i
			r.out.Headings = append(r.out.Headings, Heading{Column: columns[c], Heading: truncate(f)})
		}
	}
	for c, at := range r.columnIndex {
		if at < 0 {
			r.addError(row, columns[c], "a first row of headings with one of: "+strings.Join(headingNames[c], ", "), "there is no column %s", columns[c])
		}
	}
	r.width = len(fields)
	for r.width > 0 && strings.TrimSpace(fields[r.width-1]) == "" {
		r.width--
	}
	return len(r.out.Errors) == 0
}
