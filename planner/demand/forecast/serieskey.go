package forecast

import (
	"cmp"
	"strings"
)

// SeriesKey identifies a series of a site: a drink in a day part. A series of a document has one name, in Drink.
type SeriesKey struct {
	DayPart string `json:"-"`
	Drink   string `json:"series"`
}

// label names the series in notes. Labels of different keys can be equal, since codes may contain spaces.
func (k SeriesKey) label() string {
	if k.DayPart == "" {
		return k.Drink
	}
	return k.DayPart + " " + k.Drink
}

// compare orders keys by label, the order of the series in states of version 4.
func (k SeriesKey) compare(other SeriesKey) int {
	return cmp.Or(strings.Compare(k.label(), other.label()), strings.Compare(k.DayPart, other.DayPart))
}
