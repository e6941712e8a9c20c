package picture

import (
	"html/template"
	"math"
	"strconv"
)

// BrewChart plots strength over extraction yield: the usual range for hot coffee, the stored recipe, and measured brews. The script
// moves the mark of the recipe being tried; data attributes give it the scale.
type BrewChart struct {
	YieldPct, TDSPct float64 // of the stored recipe, after dilution with ice
	TargetTDSPct     float64
	Texts            BrewChartTexts
}

// BrewChartTexts are the labels.
type BrewChartTexts struct{ Title, Yield, Strength, Practice, Target string }

// The usual range: 18–22% yield, 1.15–1.35% strength (brewing control chart, after Lockhart 1957; from memory).
const (
	practiceYieldLow, practiceYieldHigh = 18.0, 22.0
	practiceTDSLow, practiceTDSHigh     = 1.15, 1.35
	chartYieldLow, chartYieldHigh       = 12.0, 26.0
)

// Draw draws the chart, width by height in user units.
func (b BrewChart) Draw(width, height float64) template.HTML {
	const left, right, top, bottom = 52.0, 14.0, 12.0, 48.0
	most := math.Max(2, math.Ceil(1.3*math.Max(b.TDSPct, b.TargetTDSPct)*2)/2)
	x := func(yield float64) float64 {
		return left + (width-left-right)*(yield-chartYieldLow)/(chartYieldHigh-chartYieldLow)
	}
	y := func(tds float64) float64 { return height - bottom - (height-top-bottom)*tds/most }
	f := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	var c canvas
	c.open("svg", "picture brew-chart", "viewBox", "0 0 "+num(width)+" "+num(height), "role", "img", "aria-label", b.Texts.Title,
		"data-left", f(left), "data-right", f(width-right), "data-top", f(top), "data-base", f(height-bottom),
		"data-yield-low", f(chartYieldLow), "data-yield-high", f(chartYieldHigh), "data-most", f(most))
	c.rect("practice", x(practiceYieldLow), y(practiceTDSHigh), x(practiceYieldHigh)-x(practiceYieldLow), y(practiceTDSLow)-y(practiceTDSHigh))
	for v := chartYieldLow; v <= chartYieldHigh; v += 2 {
		c.line("scale", x(v), top, x(v), height-bottom)
		c.text("scale-word", "middle", x(v), height-bottom+18, f(v))
	}
	step := 0.5
	if most > 4 {
		step = 1
	}
	for v := 0.0; v <= most+1e-9; v += step {
		c.line("scale", left, y(v), width-right, y(v))
		c.text("scale-word", "end", left-8, y(v)+4, strconv.FormatFloat(v, 'f', 1, 64))
	}
	c.text("scale-word", "middle", (left+width-right)/2, height-8, b.Texts.Yield)
	c.text("scale-word", "start", left+6, top+13, b.Texts.Strength)
	c.text("practice-word halo", "middle", x((practiceYieldLow+practiceYieldHigh)/2), y(practiceTDSLow)+17, b.Texts.Practice)
	if b.TargetTDSPct > 0 {
		c.line("target", left, y(b.TargetTDSPct), width-right, y(b.TargetTDSPct))
		c.text("target-word halo", "end", width-right-4, y(b.TargetTDSPct)-6, b.Texts.Target)
	}
	c.raw(`<g id="measured-marks"></g>`)
	c.raw(`<path class="as-set" d="`, diamond(x(b.YieldPct), y(math.Min(b.TDSPct, most))), `"/>`)
	c.raw(`<path class="as-tried" id="tried-mark" d="`, diamond(0, 0), `" transform="translate(`, num(x(b.YieldPct)), " ", num(y(math.Min(b.TDSPct, most))), `)"/>`)
	c.close("svg")
	return template.HTML(c.b.String()) //nolint:gosec // numbers and escaped texts
}

// diamond is the path of a recipe's mark, legible without colour.
func diamond(x, y float64) string { return "M" + num(x) + " " + num(y-9) + "l9 9l-9 9l-9 -9z" }
