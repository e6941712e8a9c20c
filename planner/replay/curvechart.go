package replay

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"hotday/planner/say"
)

// Layout of the curve's plot in SVG units, within chartW × chartH.
const (
	curveL, curveR = 96.0, 920.0
	curveT, curveB = 96.0, 450.0
)

// curveStyle marks the methods by shape as well as colour.
const curveStyle = `.dot.plan{fill:var(--paper);stroke-width:2}.dot.par{fill:var(--paper);stroke-width:2;stroke-dasharray:none}.best{fill:var(--ground)}` +
	`.as-is{fill:var(--water);stroke:var(--paper);stroke-width:2}.redone{fill:var(--paper);stroke:var(--water);stroke-width:3}.perfect{fill:var(--ink)}.small{font-size:12px;fill:var(--soft)}`

// WriteCurveSVG draws every policy's coffee poured away over its drinks missed, the settings of a method joined.
func WriteCurveSVG(w io.Writer, r *Result) error {
	c := newCurveChart(r)
	c.frame()
	c.policies()
	return c.writeTo(w)
}

type curveChart struct {
	drawing
	points       []Point
	best         Policy
	xMax, yMax   float64 // drinks missed; poured away, in the site's unit of mass
	xStep, yStep float64
	taken        []box // by marks, lines and labels
}

// box is an area of the drawing.
type box struct{ l, t, r, b float64 }

func (x box) overlaps(y box) bool { return x.l < y.r && y.l < x.r && x.t < y.b && y.t < x.b }

func newCurveChart(r *Result) *curveChart {
	c := &curveChart{drawing: newDrawing(r), points: r.Curve(), best: r.BestPar()}
	for i := range c.points {
		f := &c.points[i].Figures
		c.xMax, c.yMax = max(c.xMax, f.Missed), max(c.yMax, c.poured(f))
	}
	c.xStep, c.yStep = niceStep(c.xMax/6), niceStep(c.yMax/5)
	c.xMax = c.xStep * math.Max(1, math.Ceil(c.xMax/c.xStep+0.15))
	c.yMax = c.yStep * math.Max(1, math.Ceil(c.yMax/c.yStep+0.15))
	return c
}

func (c *curveChart) poured(f *Figures) float64 { return f.PouredG / say.Per(c.MassUnit()) }

func (c *curveChart) at(f *Figures) (x, y float64) {
	return curveL + (curveR-curveL)*f.Missed/c.xMax, curveB - (curveB-curveT)*c.poured(f)/c.yMax
}

func (c *curveChart) frame() {
	c.open(chartW, chartH, "c", c.headed(c.Say("replay.curve.head")), c.description(), curveStyle)
	c.text(curveL, 34, "head", "start", c.Say("replay.curve.head"))
	c.text(curveL, 58, "soft", "start", c.noted("replay.curve.sub"))
	c.text(curveL-60, curveT-14, "soft", "start", c.Say("replay.curve.poured", "mass", c.MassUnit()))
	for y := 0.0; y <= c.yMax+c.yStep/2; y += c.yStep {
		at := curveB - (curveB-curveT)*y/c.yMax
		c.put(`<path class="%s" d="M%.1f %.1fH%.1f"/>`+"\n", axis(y), curveL, at, curveR)
		c.text(curveL-10, at+5, "soft", "end", fmt.Sprintf("%.6g", y))
	}
	for x := 0.0; x <= c.xMax+c.xStep/2; x += c.xStep {
		at := curveL + (curveR-curveL)*x/c.xMax
		c.put(`<path class="%s" d="M%.1f %.1fV%.1f"/>`+"\n", axis(x), at, curveT, curveB)
		c.text(at, curveB+22, "soft", "middle", fmt.Sprintf("%.6g", x))
	}
	c.text(curveR, curveB+46, "soft", "end", c.Say("replay.curve.missed"))
}

// axis is the class of a grid line.
func axis(x float64) string {
	if x == 0 {
		return "zero"
	}
	return "hair"
}

// description is the text alternative of the chart.
func (c *curveChart) description() string {
	if len(c.r.Days) == 0 {
		return c.Say("replay.chart.no_day")
	}
	var out []string
	for i := range c.points {
		p := &c.points[i]
		out = append(out, c.Say("replay.curve.description", "policy", policyName(c.Voice, p.Policy), "mass", c.GlanceMass(p.Figures.PouredG), "missed", say.Number(p.Figures.Missed, 0)))
	}
	return strings.Join(out, " ")
}

// policies draws the lines first, then the marks, then the labels, those of the methods before those of their settings.
func (c *curveChart) policies() {
	if len(c.r.Days) == 0 {
		return
	}
	for _, m := range []Method{Par, Plan, Replanned} {
		c.line(m)
	}
	for i := range c.points {
		x, y := c.at(&c.points[i].Figures)
		c.mark(&c.points[i], x, y)
		c.taken = append(c.taken, box{x - 7, y - 7, x + 7, y + 7})
	}
	for _, settings := range []bool{false, true} {
		for i := range c.points {
			p := &c.points[i]
			if isSetting := p.Setting > 0 && p.Policy != c.best; isSetting == settings {
				class := ""
				if settings {
					class = "small"
				}
				c.label(&p.Figures, class, policyName(c.Voice, p.Policy))
			}
		}
	}
}

// line joins the settings of a method. The plan as it is lies beside the curve of its levels, since it chooses a level for each drink and
// day.
func (c *curveChart) line(m Method) {
	var d strings.Builder
	var wasX, wasY float64
	for i := range c.points {
		p := &c.points[i]
		if p.Method != m || m != Par && p.Setting == 0 {
			continue
		}
		x, y := c.at(&p.Figures)
		if d.Len() == 0 {
			fmt.Fprintf(&d, "M%.1f %.1f", x, y)
		} else {
			fmt.Fprintf(&d, "L%.1f %.1f", x, y)
			c.keepClear(wasX, wasY, x, y)
		}
		wasX, wasY = x, y
	}
	if strings.Contains(d.String(), "L") {
		c.put(`<path class="%s" d="%s"/>`+"\n", lineClasses[m], d.String())
	}
}

// keepClear keeps labels off a stretch of a line.
func (c *curveChart) keepClear(fromX, fromY, x, y float64) {
	const every, half = 8, 2.0
	n := math.Ceil(math.Hypot(x-fromX, y-fromY) / every)
	for k := 0.0; k <= n; k++ {
		px, py := fromX+(x-fromX)*k/max(n, 1), fromY+(y-fromY)*k/max(n, 1)
		c.taken = append(c.taken, box{px - half, py - half, px + half, py + half})
	}
}

var lineClasses = [methods]string{"plan", "plan", "replanned", "par", ""}

func (c *curveChart) mark(p *Point, x, y float64) {
	switch {
	case p.Method == Foresight:
		c.put(`<rect class="perfect" x="%.1f" y="%.1f" width="11" height="11"/>`+"\n", x-5.5, y-5.5)
	case p.Method == Par && p.Policy == c.best:
		c.put(`<path class="best" d="M%.1f %.1fl8 8l-8 8l-8 -8z"/>`+"\n", x, y-8)
	case p.Policy == Policy{Method: NoChoices}:
		c.put(`<circle class="redone" cx="%.1f" cy="%.1f" r="4.5"/>`+"\n", x, y)
	case p.Policy == Policy{Method: Plan}:
		c.put(`<circle class="as-is" cx="%.1f" cy="%.1f" r="8"/>`+"\n", x, y)
	case p.Policy == Policy{Method: Replanned}:
		c.put(`<circle class="redone" cx="%.1f" cy="%.1f" r="7"/>`+"\n", x, y)
	default:
		c.put(`<circle class="dot %s" cx="%.1f" cy="%.1f" r="4"/>`+"\n", lineClasses[p.Method], x, y)
	}
}

// label writes a mark's name beside it where there is room; a setting without room goes without, as its neighbours have theirs.
func (c *curveChart) label(f *Figures, class, s string) {
	x, y := c.at(f)
	w := 7.4 * float64(len([]rune(s)))
	if class == "small" {
		w = 6 * float64(len([]rune(s)))
	}
	for _, off := range []struct{ x, y float64 }{{13, 5}, {13, -6}, {13, 16}, {-13, 5}, {-13, -6}, {-13, 16}, {8, -14}, {8, 24}, {-8, -14}, {-8, 24}} {
		p := struct {
			x, y   float64
			anchor string
			area   box
		}{x + off.x, y + off.y, "start", box{x + off.x - 1, y + off.y - 13, x + off.x + w, y + off.y + 4}}
		if off.x < 0 {
			p.anchor, p.area.l, p.area.r = "end", x+off.x-w, x+off.x+1
		}
		if p.area.l < curveL || p.area.r > chartW || p.area.t < curveT-30 || p.area.b > curveB || slices.ContainsFunc(c.taken, p.area.overlaps) {
			continue
		}
		c.taken = append(c.taken, p.area)
		c.text(p.x, p.y, class, p.anchor, s)
		return
	}
}
