package picture

import (
	"html/template"
	"math"
	"strings"
)

// Strip compares a forecast range, the manager's number and sales on past days, in servings.
type Strip struct {
	Range         bool // whether there is a forecast
	P10, P50, P90 float64
	Manual        *float64 // the manager's number; nil: none
	ManualLow     *float64 // its range; nil: none
	ManualHigh    *float64
	Past          []float64 // sales on past days, newest first
	Max           float64   // value at the right edge; equal for strips to be compared
}

// Dimensions of a strip, user units.
const (
	stripWidth = 104.0
	stripTop   = 12.0 // y of the range
	stripBase  = 25.0 // y of the first row of dots
	dotSize    = 5.0
	maxStacked = 3
)

// Draw draws the forecast range with a notch at the median, the manager's number as a diamond with its range as a line, and below a
// dot for each past day, stacked if they overlap.
func (s Strip) Draw() template.HTML {
	var c canvas
	x := func(n float64) float64 { return 4 + (stripWidth-8)*math.Min(1, math.Max(0, n/math.Max(s.Max, 1e-9))) }
	var dots strings.Builder
	var lanes rowPacker
	deepest := 0
	for _, n := range s.Past {
		lane := min(lanes.place(x(n)-dotSize/2, x(n)+dotSize/2), maxStacked-1)
		deepest = max(deepest, lane)
		dots.WriteString("M" + num(x(n)) + " " + num(stripBase+float64(lane)*dotSize) + "h0")
	}
	h := stripTop + 8
	if len(s.Past) > 0 {
		h = stripBase + dotSize/2 + 1.5 + float64(deepest)*dotSize
	}
	c.raw(`<svg class="picture beads" viewBox="0 0 `, num(stripWidth), " ", num(h), `" width="`, num(stripWidth), `" height="`, num(h), `" aria-hidden="true">`)
	c.line("scale", 4, stripTop+6.5, stripWidth-4, stripTop+6.5)
	if s.Range {
		c.rect("range", x(s.P10), stripTop-4, math.Max(1.5, x(s.P90)-x(s.P10)), 8)
		c.line("notch", x(s.P50), stripTop-6, x(s.P50), stripTop+6)
	}
	if s.Manual != nil {
		if s.ManualLow != nil && s.ManualHigh != nil {
			c.line("word-ends", x(*s.ManualLow), 3.5, x(*s.ManualHigh), 3.5)
		}
		c.path("word-mark", "M"+num(x(*s.Manual))+" 0l4 4.5l-4 4.5l-4 -4.5z")
	}
	if dots.Len() > 0 {
		c.path("past", dots.String())
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // only numbers
}
