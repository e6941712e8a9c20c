package picture

import (
	"math"
	"time"

	"hotday/api/web/say"
	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say/quantity"
)

// ground is the mass in the bin, g, at and below which the tide touches the ground.
const ground = 1

// Touch is a moment at which the ice in the bin may be gone.
type Touch struct {
	At   time.Time
	Sure bool // gone on nine days in ten, not only on one
}

// Words says it: "could run out 14:45", or "runs out 14:45" where even the upper end has none left.
func (t Touch) Words(q quantity.Writer) string {
	if t.Sure {
		return texts.For(q.SiteLanguage()).Say("picture.runs_out", "when", q.Clock(t.At))
	}
	return texts.For(q.SiteLanguage()).Say("picture.could_run_out", "when", q.Clock(t.At))
}

// Touches returns the first slot of each spell in which the lower end of the range is at the ground, in order of time. A spell
// ends when the lower end has risen above a twentieth of the largest level.
func Touches(levels []models.IceLevel) []Touch {
	top := 0.0
	for _, l := range levels {
		top = max(top, l.G)
	}
	var out []Touch
	down := false
	for _, l := range levels {
		switch {
		case l.P10G <= ground && !down:
			down = true
			out = append(out, Touch{At: l.At, Sure: l.P90G <= ground})
		case l.P90G <= ground && !out[len(out)-1].Sure:
			out[len(out)-1] = Touch{At: l.At, Sure: true}
		case l.P10G > max(ground, top/20):
			down = false
		}
	}
	return out
}

// tideScale maps grams to heights.
type tideScale struct{ top, base, full float64 } // y of the full mark, y of the ground, grams at the top

func (s tideScale) y(g float64) float64 {
	return s.base - (s.base-s.top)*math.Min(math.Max(g, 0), s.full)/s.full
}

// fullOf is the mass at the top of the drawing: what the levels reach, or the bin where they come near to filling it.
func fullOf(levels []models.IceLevel, binG float64) float64 {
	top := 1000.0
	for _, l := range levels {
		top = max(top, l.G, l.P90G)
	}
	if binG > 0 && top > 0.6*binG {
		return 1.06 * max(binG, top)
	}
	return 1.12 * top
}

// within cuts levels to an axis, with the neighbours on either side so that the line goes on to the edge.
func within(levels []models.IceLevel, a Axis) []models.IceLevel {
	from, to := 0, len(levels)
	for from < to-1 && levels[from+1].At.Before(a.From) {
		from++
	}
	for to > from+1 && levels[to-2].At.After(a.To) {
		to--
	}
	return levels[from:to]
}

func (c *canvas) tideShape(levels []models.IceLevel, a Axis, s tideScale) {
	// The water is what is there on nine days in ten; the band above it what may be there; the line what the plan reckons with.
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

// kgStep is the distance of the marks on the scale, g: a round number that gives three to five of them.
func kgStep(full float64) float64 {
	for step := 500.0; ; step *= 10 {
		for _, k := range []float64{1, 2, 5} {
			if full/(step*k) <= 5 {
				return step * k
			}
		}
	}
}

func (p *plate) tide(top, height float64) {
	levels := within(p.plan.Ice.Levels, p.axis)
	nameY, margin := top+14, 8.0
	if p.narrow {
		margin = 26 // the name stands above, not in the water
	}
	s := tideScale{top: top + margin, base: top + height, full: p.full}
	p.rule(top, top+height)
	unit := quantity.Per(p.q.MassUnit())
	step := kgStep(s.full*1000/unit) * unit / 1000
	decimals := 0
	if step < unit {
		decimals = 1
	}
	for g := step; g < s.full; g += step {
		p.line("scale", p.axis.Left(), s.y(g), p.axis.Right(), s.y(g))
		p.text("scale-word", "end", p.axis.Left()-6, s.y(g)+4, say.Number(g/unit, decimals)+"\u202f"+p.q.MassUnit())
	}
	p.text("lane-name", "start", p.margin(), nameY, p.say("picture.drink_ice"))
	p.tideShape(levels, p.axis, s)
	if bin := p.req.Ice.BinG; bin > 0 && bin <= s.full {
		p.line("bin-full", p.axis.Left(), s.y(bin), p.axis.Right(), s.y(bin))
		p.text("aside halo", "end", p.axis.Right()-4, s.y(bin)-5, p.say("picture.bin_full", "mass", p.q.Mass(bin)))
	}
	p.rect("ground", p.axis.Left(), s.base, p.axis.Right()-p.axis.Left(), 4)
	p.tideWords(s)
}

// box is where a text stands.
type box struct{ x0, x1, y float64 }

// free moves a text up by lines until it touches none of the others.
func free(taken []box, b box) box {
	for i := 0; i < len(taken); i++ {
		t := taken[i]
		if b.x0 < t.x1 && t.x0 < b.x1 && b.y < t.y+17 && t.y < b.y+17 {
			b.y = t.y - 18
			i = -1
		}
	}
	return b
}

// tideWords writes the numbers on the tide: each day's height when work begins, its lowest point, and where it may touch ground.
func (p *plate) tideWords(s tideScale) {
	var taken []box
	put := func(t time.Time, g, lift float64, class, words string) {
		x := p.axis.X(t)
		w := p.m.of(words) * 1.15
		anchor, from := p.anchor(x, w)
		b := free(taken, box{from, from + w, max(s.top+12, s.y(g)-lift)})
		taken = append(taken, b)
		p.line("leader", x, s.y(g), x, b.y+4)
		p.raw(`<circle class="dot" r="3" cx="`, num(x), `" cy="`, num(s.y(g)), `"/>`)
		p.text(class+" halo", anchor, x, b.y, words)
	}
	for _, t := range Touches(p.plan.Ice.Levels) {
		if p.axis.Holds(t.At) {
			put(t.At, 0, 42, "tide-touch", t.Words(p.q))
		}
	}
	for _, sp := range p.axis.People {
		if models.DateOf(sp.From, p.loc) < p.plan.From {
			continue
		}
		if low, ok := lowest(p.plan.Ice.Levels, sp); ok && low.G > ground {
			put(low.At, low.G, 12, "tide-word", p.say("picture.lowest", "mass", p.q.Mass(low.G), "when", p.q.Clock(low.At)))
		}
		if start, ok := LevelAt(p.plan.Ice.Levels, sp.From); ok {
			put(start.At, start.G, p.liftOver(s, start, 110), "tide-word", p.say("picture.at", "what", p.q.Mass(start.G), "when", p.q.Clock(start.At)))
		}
	}
}

// liftOver is how far above a level a text of some width on both sides must stand to be clear of the line of the tide.
func (p *plate) liftOver(s tideScale, at models.IceLevel, width float64) float64 {
	lift := 12.0
	x := p.axis.X(at.At)
	for _, l := range p.plan.Ice.Levels {
		if lx := p.axis.X(l.At); p.axis.Holds(l.At) && lx > x-width/2 && lx < x+width/2 {
			lift = max(lift, s.y(at.G)-s.y(l.G)+9)
		}
	}
	return lift
}

// lowest returns the lowest planned level of a span; ok is false where the span has none.
func lowest(levels []models.IceLevel, sp models.Span) (low models.IceLevel, ok bool) {
	for _, l := range levels {
		if sp.Contains(l.At) && (!ok || l.G < low.G) {
			low, ok = l, true
		}
	}
	return low, ok
}
