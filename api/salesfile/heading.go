package salesfile

import (
	"slices"
	"strings"
)

var columns = [4]string{ColumnItem, ColumnStart, ColumnEnd, ColumnCount}

const (
	atItem = iota
	atStart
	atEnd
	atCount
)

// called lists what the columns may be headed; case, spaces, hyphens and underscores do not matter. The contract says the same.
var called = [4][]string{
	{"item", "item name", "item code", "article", "product", "sku", "plu"},
	{"start", "start time", "from", "begin", "window start"},
	{"end", "end time", "to", "until", "window end"},
	{"count", "quantity", "qty", "sold", "units"},
}

func plainHeading(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '_' || r == '-' }), " ")
}

// columnOf is the column that a heading is of, -1 for none.
func columnOf(heading string) int {
	h := plainHeading(heading)
	return slices.IndexFunc(called[:], func(names []string) bool { return slices.Contains(names, h) })
}

// known counts how many different columns a row of headings names.
func known(fields []string) int {
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

// heading reads the first row that says something. ok is false where a column is missing or there twice.
func (r *reader) heading(row int, fields []string) (ok bool) {
	r.at = [4]int{-1, -1, -1, -1}
	for i, f := range fields {
		c := columnOf(f)
		switch {
		case c < 0:
			if strings.TrimSpace(f) != "" {
				r.out.Ignored = append(r.out.Ignored, short(f))
			}
		case r.at[c] >= 0:
			r.fault(row, columns[c], "one column headed "+columns[c], "%s and %s both head it", quoted(fields[r.at[c]]), quoted(f))
		default:
			r.at[c] = i
			r.out.Headings = append(r.out.Headings, Heading{Column: columns[c], Heading: short(f)})
		}
	}
	for c, at := range r.at {
		if at < 0 {
			r.fault(row, columns[c], "a first row of headings with one of: "+strings.Join(called[c], ", "), "no column is headed %s", columns[c])
		}
	}
	r.width = len(fields)
	for r.width > 0 && strings.TrimSpace(fields[r.width-1]) == "" {
		r.width--
	}
	return len(r.out.Faults) == 0
}
