package models

import (
	"fmt"
	"time"
)

// Validate rejects the whole post if any row is bad, and names the bad rows.
func (p *SalesPost) Validate() error {
	if len(p.Counts) > MaxSalesRows {
		return &Error{Code: CodeTooLarge, Message: fmt.Sprintf("the post has too many rows: %d", len(p.Counts)),
			Fields: []FieldError{{Pointer: "/counts", Detail: fmt.Sprintf("%d rows", len(p.Counts)), Accepted: fmt.Sprintf("at most %d rows; send the rest in another post", MaxSalesRows)}}}
	}
	c := checker{}
	c.text("/source", p.Source, 100)
	for i := range p.Counts {
		c.count(i, &p.Counts[i])
	}
	return c.err()
}

// Validate checks a single count; error pointers are relative to it.
func (r *SalesCount) Validate() error {
	c := checker{}
	c.count(alone, r)
	return c.err()
}

const alone = -1 // index of a count outside a post

func (c *checker) count(i int, r *SalesCount) {
	if len(r.Item) == 0 || len(r.Item) > 200 {
		c.add(countPointer(i, "item"), "1 to 200 characters", "the item has %d characters", len(r.Item))
	}
	if !finite(r.Count) || r.Count < 0 || r.Count > 1e6 {
		c.add(countPointer(i, "count"), "0 to 1000000", "%g is out of range", r.Count)
	}
	c.window(i, r)
}

func countPointer(i int, field string) string {
	if i == alone {
		return "/" + field
	}
	return fmt.Sprintf("/counts/%d/%s", i, field)
}

// firstSale is the earliest sale. It is later than FirstInstant, since a till that has lost its clock restarts at 1970 or 1980.
var firstSale = time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)

// MaxWindow is the longest window of a sales count: a 25-hour day.
const MaxWindow = 25 * time.Hour

func (c *checker) window(i int, r *SalesCount) {
	// Pointers are built only for bad rows, since a post has thousands.
	at := func(field string) string { return countPointer(i, field) }
	switch {
	case !r.WindowEnd.After(r.WindowStart):
		c.add(at("window_end"), "a time after window_start, "+r.WindowStart.Format(time.RFC3339), "%s is not after window_start", r.WindowEnd.Format(time.RFC3339))
	case r.WindowEnd.Sub(r.WindowStart) > MaxWindow:
		c.add(at("window_end"), "at most a day after window_start", "the window is %s long", r.WindowEnd.Sub(r.WindowStart))
	case r.WindowStart.Before(firstSale) || !ValidInstant(r.WindowEnd):
		c.add(at("window_start"), "a time from 1990 to 2199", "%s is out of range", r.WindowStart.Format(time.RFC3339))
	}
}

func (c *checker) text(pointer, s string, most int) {
	if s == "" || len(s) > most {
		c.add(pointer, fmt.Sprintf("1 to %d characters", most), "the text has %d characters", len(s))
	}
}

// Validate checks that the row's range is in order. References are checked elsewhere, against the set-up.
func (d *ExpectedDemand) Validate(at string) error {
	c := checker{}
	expected := 0.0
	if d.Expected != nil {
		expected = *d.Expected
	}
	c.range10to90(at, expected, d.P10, d.P90)
	return c.err()
}

// Validate checks a post of weather. Its hours must be distinct.
func (w *WeatherPost) Validate() error {
	c := checker{}
	c.tags(w)
	seen := make(map[int64]int, len(w.Hours))
	for i, h := range w.Hours {
		if first, twice := seen[h.At.Unix()]; twice {
			c.add(fmt.Sprintf("/hours/%d/at", i), "each hour once", "duplicates /hours/%d", first)
		}
		seen[h.At.Unix()] = i
	}
	return c.err()
}
