package picture

import (
	"html/template"
	"math"

	"hotday/planner/say"
)

// ForecastDay is a day's servings: forecast before the day, nil if there was none, and sold.
type ForecastDay struct {
	Label    string // below the axis; "": none
	Forecast *float64
	Sold     float64
	Open     bool
}

// Dimensions of the chart, user units.
const (
	chartWidth, chartHeight = 720.0, 190.0
	chartLeft, chartRight   = 46.0, 712.0
	chartTop, chartBase     = 14.0, 158.0
	maxLabels               = 10
)

// ForecastChart draws a dot for each day's sales, a bar for its forecast and a line between them. label is for screen readers; the page
// has the numbers in a table.
func ForecastChart(days []ForecastDay, label string) template.HTML {
	most := 1.0
	for _, d := range days {
		most = math.Max(most, d.Sold)
		if d.Forecast != nil {
			most = math.Max(most, *d.Forecast)
		}
	}
	step := niceStep(most / 3)
	y := func(n float64) float64 { return chartBase - (chartBase-chartTop)*n/math.Max(most, step) }
	var c canvas
	c.open("svg", "picture said-sold", "viewBox", "0 0 "+num(chartWidth)+" "+num(chartHeight), "role", "img", "aria-label", label)
	for n := 0.0; n <= most; n += step {
		c.line("scale", chartLeft, y(n), chartRight, y(n))
		c.text("scale-word", "end", chartLeft-8, y(n)+4, say.Number(n, 0))
	}
	each := (chartRight - chartLeft) / math.Max(1, float64(len(days)))
	every := max(1, (len(days)+maxLabels-1)/maxLabels)
	for i, d := range days {
		x := chartLeft + (float64(i)+0.5)*each
		if i%every == 0 && d.Label != "" {
			c.text("scale-word", "middle", x, chartBase+18, d.Label)
		}
		if !d.Open {
			continue
		}
		if d.Forecast != nil {
			c.line("stem", x, y(*d.Forecast), x, y(d.Sold))
			w := math.Min(each*0.38, 9)
			c.line("said", x-w, y(*d.Forecast), x+w, y(*d.Forecast))
		}
		c.path("sold", "M"+num(x)+" "+num(y(d.Sold))+"h0")
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // canvas escapes texts
}

// niceStep is the smallest 1, 2 or 5 times a power of ten that is at least x, and at least 1.
func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(math.Max(x, 1e-9))))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= x {
			return math.Max(1, m*p)
		}
	}
	return math.Max(1, 10*p)
}
