package picture

import (
	"math"
	"time"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say"
)

// emptyG is the mass in the bin, g, at or below which the ice counts as run out.
const emptyG = 1

// runOutText is "may run out 14:45, about 4 in 10".
func runOutText(r models.RunOut, q say.Writer) string {
	return texts.For(q.SiteLanguage()).Say("picture.may_run_out", "when", q.Clock(r.At), "chance", q.AboutChance(r.ChancePct))
}

// iceScale maps grams to y.
type iceScale struct{ top, base, topG float64 } // y of topG, y of 0 g, grams at the top

func (s iceScale) y(g float64) float64 {
	return s.base - (s.base-s.top)*math.Min(math.Max(g, 0), s.topG)/s.topG
}

// scaleTop is the mass at the top of the chart: above the highest level, or above the bin's capacity if the ice comes near it.
func scaleTop(levels []models.IceLevel, binG float64) float64 {
	top := 1000.0
	for _, l := range levels {
		top = max(top, l.G, l.P90G)
	}
	if binG > 0 && top > 0.6*binG {
		return 1.06 * max(binG, top)
	}
	return 1.12 * top
}

// clipLevels returns the levels on an axis and one neighbour on each side, so that the line reaches the edge.
func clipLevels(levels []models.IceLevel, a Axis) []models.IceLevel {
	from, to := 0, len(levels)
	for from < to-1 && levels[from+1].At.Before(a.From) {
		from++
	}
	for to > from+1 && levels[to-2].At.After(a.To) {
		to--
	}
	return levels[from:to]
}

func (c *canvas) iceArea(levels []models.IceLevel, a Axis, s iceScale) {
	// The filled area is the level reached 9 days in 10, the band goes up to the 90th percentile, and the line is the median.
	var mid, low, high []point
	for _, l := range levels {
		x := a.X(l.At)
		mid = append(mid, point{x, s.y(l.G)})
		low = append(low, point{x, s.y(l.P10G)})
		high = append(high, point{x, s.y(l.P90G)})
	}
	if len(mid) == 0 {
		return
	}
	close := func(pts []point) []point {
		return append(append([]point{{pts[0].x, s.base}}, pts...), point{pts[len(pts)-1].x, s.base})
	}
	c.path("tide-band", polyline(close(high))+"Z")
	c.path("tide-fill", polyline(close(low))+"Z")
	c.path("tide-line", polyline(mid))
}

// scaleStep is the distance of the scale's marks, g: a round number that gives at most five.
func scaleStep(full float64) float64 {
	for step := 500.0; ; step *= 10 {
		for _, k := range []float64{1, 2, 5} {
			if full/(step*k) <= 5 {
				return step * k
			}
		}
	}
}

func (p *drawing) iceChart(top, height float64) {
	levels := clipLevels(p.plan.Ice.Levels, p.axis)
	nameY, margin := top+14, 8.0
	if p.narrow {
		margin = 26 // room for the name above the chart
	}
	s := iceScale{top: top + margin, base: top + height, topG: p.topG}
	p.rule(top, top+height)
	unit := say.Per(p.q.MassUnit())
	step := scaleStep(s.topG*1000/unit) * unit / 1000
	decimals := 0
	if step < unit {
		decimals = 1
	}
	for g := step; g < s.topG; g += step {
		p.line("scale", p.axis.Left(), s.y(g), p.axis.Right(), s.y(g))
		p.text("scale-word", "end", p.axis.Left()-6, s.y(g)+4, p.q.Number(g/unit, decimals)+"\u202f"+p.q.MassUnit())
	}
	p.text("lane-name", "start", p.margin(), nameY, p.say("picture.drink_ice"))
	p.iceArea(levels, p.axis, s)
	if bin := p.req.Ice.BinG; bin > 0 && bin <= s.topG {
		p.line("bin-full", p.axis.Left(), s.y(bin), p.axis.Right(), s.y(bin))
		p.text("aside halo", "end", p.axis.Right()-4, s.y(bin)-5, p.say("picture.bin_full", "mass", p.q.GlanceMass(bin)))
	}
	p.rect("ground", p.axis.Left(), s.base, p.axis.Right()-p.axis.Left(), 4)
	p.iceLabels(s)
}

// labelBox is the place of a text.
type labelBox struct{ x0, x1, y float64 }

// avoidOverlap moves a text up, line by line, until it overlaps none of the others.
func avoidOverlap(taken []labelBox, b labelBox) labelBox {
	for i := 0; i < len(taken); i++ {
		t := taken[i]
		if b.x0 < t.x1 && t.x0 < b.x1 && b.y < t.y+17 && t.y < b.y+17 {
			b.y = t.y - 18
			i = -1
		}
	}
	return b
}

// iceLabels writes each day's level at the start of work, its lowest level, and when the ice may run out.
func (p *drawing) iceLabels(s iceScale) {
	var taken []labelBox
	put := func(t time.Time, g, lift float64, class, words string) {
		x := p.axis.X(t)
		w := p.m.width(words) * 1.15
		anchor, from := p.anchor(x, w)
		b := avoidOverlap(taken, labelBox{from, from + w, max(s.top+12, s.y(g)-lift)})
		taken = append(taken, b)
		p.line("leader", x, s.y(g), x, b.y+4)
		p.raw(`<circle class="dot" r="3" cx="`, num(x), `" cy="`, num(s.y(g)), `"/>`)
		p.text(class+" halo", anchor, x, b.y, words)
	}
	for _, r := range p.plan.RunOuts() {
		if p.axis.Holds(r.At) {
			put(r.At, 0, 42, "tide-touch", runOutText(r, p.q))
		}
	}
	for _, sp := range p.axis.People {
		if models.DateOf(sp.From, p.loc) < p.plan.From {
			continue
		}
		if low, ok := lowest(p.plan.Ice.Levels, sp); ok && low.G > emptyG {
			put(low.At, low.G, 12, "tide-word", p.say("picture.lowest", "mass", p.q.GlanceMass(low.G), "when", p.q.Clock(low.At)))
		}
		if start, ok := LevelAt(p.plan.Ice.Levels, sp.From); ok {
			put(start.At, start.G, p.labelLift(s, start, 110), "tide-word", p.say("picture.at", "what", p.q.GlanceMass(start.G), "when", p.q.Clock(start.At)))
		}
	}
}

// labelLift is how far above a level a text of a width must be to stay clear of the line.
func (p *drawing) labelLift(s iceScale, at models.IceLevel, width float64) float64 {
	lift := 12.0
	x := p.axis.X(at.At)
	for _, l := range p.plan.Ice.Levels {
		if lx := p.axis.X(l.At); p.axis.Holds(l.At) && lx > x-width/2 && lx < x+width/2 {
			lift = max(lift, s.y(at.G)-s.y(l.G)+9)
		}
	}
	return lift
}

// lowest returns the lowest planned level in a span; ok is false if there is none.
func lowest(levels []models.IceLevel, sp models.Span) (low models.IceLevel, ok bool) {
	for _, l := range levels {
		if sp.Contains(l.At) && (!ok || l.G < low.G) {
			low, ok = l, true
		}
	}
	return low, ok
}
