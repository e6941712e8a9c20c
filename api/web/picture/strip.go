package picture

import (
	"html/template"
	"math"
	"strings"
)

// Strip is one number of servings seen beside its range and what was sold on days before. All counts are servings.
type Strip struct {
	Range         bool // there is a forecast
	P10, P50, P90 float64
	Word          *float64 // the manager's, drawn apart from the forecast; nil: none
	WordLow       *float64 // its own ends; nil: none were stated
	WordHigh      *float64
	Past          []float64 // on days before, newest first
	Most          float64   // at the right edge; the same for all strips that are to be compared
}

// Size of a strip, user units, and of what is on it.
const (
	stripWidth  = 104.0
	stripTop    = 12.0 // middle of the range
	stripBase   = 25.0 // middle of the lowest dots
	dotSize     = 5.0
	mostStacked = 3
)

// Draw draws the strip: above, the forecast's range with a notch at the middle, and the manager's word as a diamond with its own
// ends as a line; below, a dot for each day before, stacked where they would cover each other.
func (s Strip) Draw() template.HTML {
	var c canvas
	x := func(n float64) float64 { return 4 + (stripWidth-8)*math.Min(1, math.Max(0, n/math.Max(s.Most, 1e-9))) }
	var dots strings.Builder
	var lanes rows
	deepest := 0
	for _, n := range s.Past {
		lane := min(lanes.place(x(n)-dotSize/2, x(n)+dotSize/2), mostStacked-1)
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
	if s.Word != nil {
		if s.WordLow != nil && s.WordHigh != nil {
			c.line("word-ends", x(*s.WordLow), 3.5, x(*s.WordHigh), 3.5)
		}
		c.path("word-mark", "M"+num(x(*s.Word))+" 0l4 4.5l-4 4.5l-4 -4.5z")
	}
	if dots.Len() > 0 {
		c.path("past", dots.String())
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // only numbers were written
}
