package replay

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Layout in SVG units.
const (
	chartW, chartH = 960.0, 520.0
	plotL, plotR   = 84.0, 776.0
	heatT, heatB   = 86.0, 146.0
	plotT, plotB   = 176.0, 470.0
)

// chartStyle is the style sheet of the charts, for light and dark backgrounds. Line styles and labels repeat all that colour
// says.
const chartStyle = `svg{--paper:#f7f2e8;--ink:#20272b;--soft:#566068;--hair:#d9cfbb;--water:#17707a;--pale:#bddcda;--heat:#8a5008;--ground:#4a4036;` +
	`background:var(--paper);font:15px/1.2 Seravek,"Gill Sans Nova",Ubuntu,Calibri,"Source Sans 3","Noto Sans",Candara,"DejaVu Sans",sans-serif;font-variant-numeric:tabular-nums lining-nums}` +
	`@media (prefers-color-scheme:dark){svg{--paper:#182026;--ink:#ece6d9;--soft:#a9b1b3;--hair:#36424a;--water:#6fc0c2;--pale:#24525a;--heat:#e0a552;--ground:#c9bba4}}` + //nolint:misspell // CSS spells it so
	`text{fill:var(--ink)}.head{font-size:21px}.soft{fill:var(--soft);font-size:13px}.hair{stroke:var(--hair)}.month{stroke:var(--hair);stroke-dasharray:2 4}` +
	`.heat{fill:none;stroke:var(--heat);stroke-width:1.6}.hot{fill:var(--heat)}.between{fill:var(--pale);opacity:.55}` +
	`.plan{fill:none;stroke:var(--water);stroke-width:3.2}.par{fill:none;stroke:var(--ground);stroke-width:2.4;stroke-dasharray:9 6}.replanned{fill:none;stroke:var(--water);stroke-width:3;stroke-dasharray:1 6;stroke-linecap:round}.zero{stroke:var(--ink);stroke-width:1.6}` +
	`.big{font-size:17px}`

// WriteSVG draws the cumulative cost of the plan and the best par sheet above that of perfect foresight, below the temperature of the
// days.
func WriteSVG(w io.Writer, r *Result) error {
	c := newChart(r)
	c.frame()
	c.heat()
	c.lines()
	return c.writeTo(w)
}

type chart struct {
	drawing
	par      Policy             // the best par sheet
	sums     [methods][]float64 // cumulative cost above foresight by method and day, in major currency units
	lo, hi   float64            // range of the money axis
	tickStep float64
}

func newChart(r *Result) *chart {
	c := &chart{drawing: newDrawing(r), par: r.BestPar()}
	unit := math.Pow10(say.MoneyDecimals(r.Site.Currency))
	for _, m := range r.Methods {
		sum := 0.0
		for i := range r.Days {
			f := &r.Days[i].Figures[m]
			if m == Par {
				f = r.ofDay(i, c.par)
			}
			sum += (f.Cost() - r.Days[i].Figures[Foresight].Cost()) / unit
			c.sums[m] = append(c.sums[m], sum)
			c.lo, c.hi = min(c.lo, sum), max(c.hi, sum)
		}
	}
	if c.lo > -0.05*c.hi { // a small negative value on the first days needs no negative axis
		c.lo = 0
	}
	c.tickStep = niceStep((c.hi - c.lo) / 5)
	c.hi = c.tickStep * math.Max(1, math.Ceil(c.hi/c.tickStep))
	c.lo = c.tickStep * math.Floor(c.lo/c.tickStep)
	return c
}

// niceStep rounds up to 1, 2 or 5 times a power of ten.
func niceStep(x float64) float64 {
	if !(x > 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5} {
		if x <= f*p*(1+1e-9) {
			return f * p
		}
	}
	return 10 * p
}

func (c *chart) x(i float64) float64 {
	return plotL + (plotR-plotL)*i/math.Max(1, float64(len(c.r.Days)))
}

func (c *chart) y(money float64) float64 { return plotB - (plotB-plotT)*(money-c.lo)/(c.hi-c.lo) }

func (c *chart) frame() {
	r := c.r
	head := c.Say("replay.chart.head", "currency", r.Site.Currency)
	c.open(chartW, chartH, "", c.headed(head), c.description(), "")
	c.text(plotL, 34, "head", "start", head)
	c.text(plotL, 58, "soft", "start", c.noted("replay.chart.sub"))
	for m := c.lo; m <= c.hi+c.tickStep/2; m += c.tickStep {
		if math.Abs(m) > c.tickStep/2 {
			c.put(`<path class="hair" d="M%.1f %.1fH%.1f"/>`+"\n", plotL, c.y(m), plotR)
		}
		c.text(plotL-10, c.y(m)+5, "soft", "end", fmt.Sprintf("%.6g", m))
	}
	for i := range r.Days {
		d := r.Days[i].Date
		first := d[8:] == "01"
		if first && i > 0 {
			c.put(`<path class="month" d="M%.1f %.1fV%.1f"/>`+"\n", c.x(float64(i)), heatT, plotB)
		}
		if first || i == 0 && daysLeft(d) > 7 {
			c.text(c.x(float64(i))+4, plotB+24, "soft", "start", monthOf(c.Voice, d))
		}
	}
}

// daysLeft is the number of days after d in its month.
func daysLeft(d models.Date) int {
	t := d.At(720, time.UTC)
	return t.AddDate(0, 1, -t.Day()).Day() - t.Day()
}

// description is the text alternative of the chart.
func (c *chart) description() string {
	if len(c.r.Days) == 0 {
		return c.Say("replay.chart.no_day")
	}
	last := len(c.r.Days) - 1
	_, to := c.r.dates(c.Voice)
	description := c.Say("replay.chart.description", "to", to, "currency", c.r.Site.Currency, "plan", say.Number(c.sums[Plan][last], 0), "name", c.parName(), "par", say.Number(c.sums[Par][last], 0))
	if len(c.sums[Replanned]) > 0 {
		description += " " + c.Say("replay.chart.replanned", "currency", c.r.Site.Currency, "cost", say.Number(c.sums[Replanned][last], 0))
	}
	return description
}

// parName names the best par sheet.
func (c *chart) parName() string { return policyName(c.Voice, c.par) }

// heat draws the maximum temperature of each day.
func (c *chart) heat() {
	lo, hi, at := math.Inf(1), math.Inf(-1), 0
	for i := range c.r.Days {
		if t := c.r.Days[i].TempC; !math.IsNaN(t) {
			if t > hi {
				hi, at = t, i
			}
			lo = min(lo, t)
		}
	}
	if hi <= lo {
		return
	}
	y := func(t float64) float64 { return heatB - (heatB-heatT)*(t-lo)/(hi-lo) }
	c.put(`<path class="heat" d="`)
	pen := "M"
	for i := range c.r.Days {
		if t := c.r.Days[i].TempC; math.IsNaN(t) {
			pen = "M"
		} else {
			c.put("%s%.1f %.1f", pen, c.x(float64(i)+.5), y(t))
			pen = "L"
		}
	}
	c.put("\"/>\n")
	c.text(c.x(float64(at)+.5), heatT-6, "soft", "middle", c.WholeTemp(hi))
	c.text(plotR+14, heatB-20, "soft", "start", c.Say("replay.chart.warmest"))
}

func (c *chart) lines() {
	n := len(c.r.Days)
	if n == 0 {
		return
	}
	c.put(`<path class="between" d="%s`, c.path(Par))
	for i := n - 1; i >= 0; i-- {
		c.put("L%.1f %.1f", c.x(float64(i)+1), c.y(c.sums[Plan][i]))
	}
	c.put("L%.1f %.1fZ\"/>\n", c.x(0), c.y(0))
	c.put(`<path class="zero" d="M%.1f %.1fH%.1f"/>`+"\n", plotL, c.y(0), plotR)
	type label struct {
		y           float64
		name, value string
	}
	labels := []label{{c.y(0), c.Say("replay.method.foresight"), ""}}
	for _, l := range []struct {
		m     Method
		class string
	}{{Par, "par"}, {Replanned, "replanned"}, {Plan, "plan"}} {
		if len(c.sums[l.m]) == 0 {
			continue
		}
		c.put(`<path class="%s" d="%s"/>`+"\n", l.class, c.path(l.m))
		sum := c.sums[l.m][n-1]
		labels = append(labels, label{c.y(sum), c.Say("replay.line."+l.class, "name", c.parName()), strings.Replace(fmt.Sprintf("+%.0f %s", sum, c.r.Site.Currency), "+-", "−", 1)})
	}
	slices.SortStableFunc(labels, func(a, b label) int { return cmp.Compare(a.y, b.y) })
	// Labels are at least a line apart.
	const minGap = 42
	for i := len(labels) - 2; i >= 0; i-- {
		labels[i].y = min(labels[i].y, labels[i+1].y-minGap)
	}
	for _, l := range labels {
		c.text(plotR+14, l.y+5, "big", "start", l.name)
		if l.value != "" {
			c.text(plotR+14, l.y+23, "soft", "start", l.value)
		}
	}
}

// path is the cumulative line of a method.
func (c *chart) path(m Method) string {
	var b strings.Builder
	fmt.Fprintf(&b, "M%.1f %.1f", c.x(0), c.y(0))
	for i, sum := range c.sums[m] {
		fmt.Fprintf(&b, "L%.1f %.1f", c.x(float64(i)+1), c.y(sum))
	}
	return b.String()
}
