package replay

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"hotday/planner/say"
)

// RowRange is the plan's forecast of a row on the evening before, in servings, with the demand that came.
type RowRange struct {
	DayPart, Drink string
	P10, P50, P90  float64
	Demand         float64 // NaN if unknown
}

// Layout in SVG units.
const (
	rangesW     = 960.0
	panelT      = 92.0  // top of the first panel
	panelH      = 132.0 // height of a panel with its labels
	panelPlot   = 84.0
	panelLeft   = 58.0
	panelGap    = 26.0
	maxPanels   = 12
	twoColumns  = 10 // most days with two panels side by side
	rangesStyle = `.bar{fill:var(--pale);stroke:var(--water);stroke-width:1}.mid{stroke:var(--water);stroke-width:2.4}` +
		`.in{fill:var(--ink)}.out{fill:var(--paper);stroke:var(--heat);stroke-width:2.4}.none{stroke:var(--soft);stroke-width:1.6}.small{fill:var(--soft);font-size:12px}`
)

// WriteRangesSVG draws, for each drink and day part and each day, the 10–90 % range and median forecast on the evening before and
// the demand that came: a dot inside the range, a ring outside. Of many rows it draws the twelve with the most servings.
func WriteRangesSVG(w io.Writer, r *Result) error {
	c := &rangesChart{drawing: newDrawing(r)}
	c.panels = panelsOf(c.Voice, r)
	c.columns = 1
	if len(r.Days) <= twoColumns {
		c.columns = 2
	}
	c.draw()
	return c.writeTo(w)
}

// panel is one drink in one day part, with a range for each day, nil where there is none.
type panel struct {
	name    string
	days    []*RowRange
	demand  float64
	max     float64 // of the axis
	covered float64
	ranges  int
}

func panelsOf(v say.Voice, r *Result) []panel {
	parts := map[string]bool{}
	for i := range r.Days {
		for _, x := range r.Days[i].Ranges {
			parts[x.DayPart] = true
		}
	}
	var out []panel
	index := map[[2]string]int{}
	for i := range r.Days {
		for k := range r.Days[i].Ranges {
			x := &r.Days[i].Ranges[k]
			key := [2]string{x.DayPart, x.Drink}
			n, ok := index[key]
			if !ok {
				n = len(out)
				index[key] = n
				name := x.Drink
				if len(parts) > 1 {
					name = v.Say("replay.ranges.panel", "drink", x.Drink, "part", x.DayPart)
				}
				out = append(out, panel{name: name, days: make([]*RowRange, len(r.Days))})
			}
			p := &out[n]
			p.days[i] = x
			p.max = max(p.max, x.P90)
			if !math.IsNaN(x.Demand) {
				p.demand, p.max = p.demand+x.Demand, max(p.max, x.Demand)
				if x.P90 > 0 {
					p.covered, p.ranges = p.covered+coverageOf(x.Demand, x.P10, x.P90), p.ranges+1
				}
			}
		}
	}
	if len(out) > maxPanels {
		slices.SortStableFunc(out, func(a, b panel) int { return cmp.Compare(b.demand, a.demand) })
		out = out[:maxPanels]
	}
	return out
}

type rangesChart struct {
	drawing
	panels  []panel
	columns int
}

func (c *rangesChart) draw() {
	rows := (len(c.panels) + c.columns - 1) / c.columns
	height := panelT + float64(rows)*panelH + 16
	c.open(rangesW, height, "", c.headed(c.Say("replay.ranges.head")), c.description(), rangesStyle)
	c.text(panelLeft, 32, "head", "start", c.Say("replay.ranges.head"))
	c.text(panelLeft, 54, "soft", "start", c.noted("replay.ranges.sub"))
	c.text(panelLeft, 72, "soft", "start", c.description())
	width := (rangesW - panelLeft - 20 - float64(c.columns-1)*(panelLeft+panelGap)) / float64(c.columns)
	for i := range c.panels {
		x := panelLeft + float64(i%c.columns)*(width+panelLeft+panelGap)
		c.panel(&c.panels[i], x, panelT+float64(i/c.columns)*panelH, width)
	}
}

// description is the text alternative of the chart.
func (c *rangesChart) description() string {
	covered, ranges := 0.0, 0
	for _, p := range c.panels {
		covered, ranges = covered+p.covered, ranges+p.ranges
	}
	if ranges == 0 {
		return c.Say("replay.ranges.none")
	}
	description := c.Say("replay.ranges.covered", "n", ranges, "pct", say.Number(100*covered/float64(ranges), 0))
	if ranges < 200 {
		description += " " + c.Say("replay.ranges.few")
	}
	return description
}

func (c *rangesChart) panel(p *panel, left, top, width float64) {
	floor := top + 20 + panelPlot
	high := math.Max(p.max, 1)
	y := func(n float64) float64 { return floor - panelPlot*n/high }
	step := width / float64(max(1, len(p.days)))
	x := func(i int) float64 { return left + (float64(i)+.5)*step }
	c.text(left, top+14, "", "start", p.name)
	c.text(left+width, top+14, "small", "end", c.Say("replay.ranges.inside", "covered", c.Typed(strconv.FormatFloat(p.covered, 'f', -1, 64)), "n", p.ranges))
	for n := 0.0; n <= high; n += niceStep(high / 3) {
		c.put(`<path class="hair" d="M%.1f %.1fH%.1f"/>`+"\n", left, y(n), left+width)
		c.text(left-6, y(n)+4, "small", "end", fmt.Sprintf("%.6g", n))
	}
	bar := math.Min(26, .62*step)
	for i, d := range p.days {
		if d == nil {
			continue
		}
		if d.P90 > 0 {
			c.put(`<rect class="bar" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`+"\n", x(i)-bar/2, y(d.P90), bar, math.Max(.5, y(d.P10)-y(d.P90)))
			c.put(`<path class="mid" d="M%.1f %.1fh%.1f"/>`+"\n", x(i)-bar/2, y(d.P50), bar)
		}
		if math.IsNaN(d.Demand) {
			continue
		}
		class, size := "in", math.Max(2, math.Min(4, bar/3))
		if d.P90 <= 0 {
			c.put(`<path class="none" d="M%.1f %.1fl%.1f %.1fm0 %.1fl%.1f %.1f"/>`+"\n", x(i)-size, y(d.Demand)-size, 2*size, 2*size, -2*size, -2*size, 2*size)
			continue
		}
		if d.Demand < d.P10 || d.Demand > d.P90 {
			class = "out"
		}
		c.put(`<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`+"\n", class, x(i), y(d.Demand), size)
	}
	for i := range c.r.Days {
		d := &c.r.Days[i]
		if len(p.days) > twoColumns && i%7 != 0 {
			continue
		}
		beside := c.ShortDate(d.Date.At(720, c.Location()))
		if !math.IsNaN(d.TempC) && len(p.days) <= twoColumns {
			beside = c.WholeTemp(d.TempC)
		}
		c.text(x(i), floor+16, "small", "middle", c.Say("replay.ranges.day", "weekday", c.ShortDay(d.Date), "beside", beside))
	}
}
