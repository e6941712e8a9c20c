package picture

import (
	"html/template"
	"math"

	"hotday/api/web/say"
)

// SaidDay is the servings of a day: what the forecast had said, nil where it had not, and what was sold.
type SaidDay struct {
	Label string // under the axis; empty: none
	Said  *float64
	Sold  float64
	Open  bool
}

// The frame of the chart, user units.
const (
	saidWidth, saidHeight = 720.0, 190.0
	saidLeft, saidRight   = 46.0, 712.0
	saidTop, saidBase     = 14.0, 158.0
	mostLabels            = 10
)

// Said draws each day's servings: a dot for what was sold, a short bar for what had been said before, a stem between the two. label
// says for a screen reader what the picture shows; the same numbers stand in a table.
func Said(days []SaidDay, label string) template.HTML {
	most := 1.0
	for _, d := range days {
		most = math.Max(most, d.Sold)
		if d.Said != nil {
			most = math.Max(most, *d.Said)
		}
	}
	step := niceStep(most / 3)
	y := func(n float64) float64 { return saidBase - (saidBase-saidTop)*n/math.Max(most, step) }
	var c canvas
	c.open("svg", "picture said-sold", "viewBox", "0 0 "+num(saidWidth)+" "+num(saidHeight), "role", "img", "aria-label", label)
	for n := 0.0; n <= most; n += step {
		c.line("scale", saidLeft, y(n), saidRight, y(n))
		c.text("scale-word", "end", saidLeft-8, y(n)+4, say.Number(n, 0))
	}
	each := (saidRight - saidLeft) / math.Max(1, float64(len(days)))
	every := max(1, (len(days)+mostLabels-1)/mostLabels)
	for i, d := range days {
		x := saidLeft + (float64(i)+0.5)*each
		if i%every == 0 && d.Label != "" {
			c.text("scale-word", "middle", x, saidBase+18, d.Label)
		}
		if !d.Open {
			continue
		}
		if d.Said != nil {
			c.line("stem", x, y(*d.Said), x, y(d.Sold))
			w := math.Min(each*0.38, 9)
			c.line("said", x-w, y(*d.Said), x+w, y(*d.Said))
		}
		c.path("sold", "M"+num(x)+" "+num(y(d.Sold))+"h0")
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // texts are escaped by the canvas
}

// niceStep is 1, 2 or 5 times a power of ten, at least x.
func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(math.Max(x, 1e-9))))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= x {
			return math.Max(1, m*p)
		}
	}
	return math.Max(1, 10*p)
}
