package picture

import (
	"html/template"
	"slices"
	"strings"
	"time"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say"
)

// Frame is the part of a plan shown in one drawing.
type Frame struct {
	From, To time.Time
	Now      time.Time // marked if inside; zero: not marked
	Width    float64   // user units, to be shown at 1 px each
	Narrow   bool      // for phones: names inside the drawing
	Before   bool      // ends before the planned days
	totals   []PartTotal
}

// Frames splits the time of a plan into drawings of at most days service days. The first starts at the hour in which the plan was
// computed. Days before the planned ones, when preparation starts, have separate drawings.
func Frames(req models.PlanRequest, plan models.Plan, days int, width float64, narrow bool) []Frame {
	var out []Frame
	site := req.Site
	loc := site.Location()
	from := plan.ComputedAt.In(loc).Truncate(time.Hour)
	end := site.DayEnd(plan.From.AddDays(max(plan.Days, 1) - 1))
	first := models.DateOf(from, loc)
	if first > plan.From {
		first = plan.From
	}
	last := plan.From.AddDays(max(plan.Days, 1) - 1)
	totals := PartTotals(site, plan.Demand)
	for _, d := range splitDays(first, plan.From, last, days) {
		f := Frame{From: drawingStart(site, d.from), To: end, Width: width, Narrow: narrow, Before: d.from < plan.From, totals: totals}
		if d.from == first {
			f.From = from
		}
		if d.next <= last {
			f.To = drawingStart(site, d.next)
		}
		if f.From.Before(f.To) {
			out = append(out, f)
		}
	}
	return out
}

// dayRange is the days from from to before next.
type dayRange struct{ from, next models.Date }

// splitDays splits first … last at the first planned day, and each side into ranges of at most longest days, as equal as possible: unequal drawings
// would look like different things.
func splitDays(first, planned, last models.Date, longest int) []dayRange {
	var out []dayRange
	for _, side := range []dayRange{{first, planned}, {max(first, planned), last.AddDays(1)}} {
		n := side.from.DaysUntil(side.next)
		if n < 1 {
			continue
		}
		ranges := (n + longest - 1) / longest
		per := (n + ranges - 1) / ranges
		for d := side.from; d < side.next; d = d.AddDays(per) {
			out = append(out, dayRange{d, min(d.AddDays(per), side.next)})
		}
	}
	return out
}

// drawingStart is the start of a day's drawing: midnight, or the end of the previous day's working hours if later.
func drawingStart(site models.Site, d models.Date) time.Time {
	start := d.At(0, site.Location())
	for _, sp := range site.StaffSpans(d.AddDays(-1)) {
		if sp.To.After(start) {
			start = sp.To
		}
	}
	return start
}

// drawing is a drawing in progress; y is the bottom of the last section.
type drawing struct {
	canvas
	req    *models.PlanRequest
	plan   *models.Plan
	loc    *time.Location
	q      say.Writer
	say    func(key string, args ...any) string
	axis   Axis
	narrow bool
	topG   float64 // top of the ice scale, g
	totals []PartTotal
	now    time.Time
	y      float64
	rules  []float64 // y of the lines between sections
}

// height picks a section's height.
func (p *drawing) height(wide, narrow float64) float64 {
	if p.narrow {
		return narrow
	}
	return wide
}

// Weekend draws a frame of the plan.
func Weekend(req models.PlanRequest, plan models.Plan, f Frame) template.HTML {
	p := newDrawing(req, plan, f)
	p.totals = f.totals
	p.days()
	p.temperature(p.height(64, 56))
	p.servings(p.height(128, 118))
	p.section(func(top float64) float64 { p.iceChart(top, p.height(240, 190)); return p.height(240, 190) + 4 })
	p.hours()
	p.warnings()
	return p.finish(f)
}

// Lanes draws what brewers, ice machines and trays do in a frame, and when to prepare water and get out beans.
func Lanes(req models.PlanRequest, plan models.Plan, f Frame) template.HTML {
	p := newDrawing(req, plan, f)
	p.days()
	p.lanes()
	p.flags()
	p.hours()
	return p.finish(f)
}

func newDrawing(req models.PlanRequest, plan models.Plan, f Frame) *drawing {
	gutter := 104.0
	if f.Narrow {
		gutter = 46
	}
	p := &drawing{req: &req, plan: &plan, loc: req.Site.Location(), q: say.WriterFor(req.Site), say: texts.For(req.Site.Language).Say, narrow: f.Narrow, now: f.Now,
		axis: NewAxis(req.Site, f.From, f.To, gutter, f.Width-6), topG: scaleTop(plan.Ice.Levels, req.Ice.BinG)}
	p.m = measure{size: 13}
	return p
}

// section calls draw at the current y and moves down by the height it returns.
func (p *drawing) section(draw func(top float64) float64) { p.y += draw(p.y) }

func (p *drawing) finish(f Frame) template.HTML {
	var c canvas
	h := p.y + 6
	c.raw(`<svg class="picture`)
	if f.Narrow {
		c.raw(" narrow")
	}
	c.raw(`" viewBox="0 0 `, num(f.Width), " ", num(h), `" role="group" aria-label="`, template.HTMLEscapeString(p.label(f)), `">`)
	c.raw(p.columns(h))
	c.raw(p.b.String())
	if !p.now.IsZero() && p.axis.Holds(p.now) {
		x := p.axis.X(p.now)
		c.line("now", x, 22, x, h-4)
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // every text was escaped where it was written
}

func (p *drawing) label(f Frame) string {
	return p.say("picture.label", "day", p.q.Day(f.From), "clock", p.q.Clock(f.From), "last", p.q.Day(f.To.Add(-time.Second)))
}

// margin is the x of section names.
func (p *drawing) margin() float64 {
	if p.narrow {
		return p.axis.Left() + 5
	}
	return 0
}

// anchor returns the anchor at which a text of width w at x stays inside, and its left edge.
func (p *drawing) anchor(x, w float64) (anchor string, from float64) {
	switch {
	case x+w/2 > p.axis.Right():
		return "end", x - w
	case x-w/2 < p.axis.Left():
		return "start", x
	}
	return "middle", x - w/2
}

// rule adds a line at the top of a section.
func (p *drawing) rule(top, _ float64) { p.rules = append(p.rules, top) }

// dates returns the service days in the drawing.
func (p *drawing) dates() []models.Date {
	var out []models.Date
	last := models.DateOf(p.axis.To.Add(-time.Second), p.loc)
	for d := models.DateOf(p.axis.From, p.loc); d <= last; d = d.AddDays(1) {
		out = append(out, d)
	}
	return out
}

// partsOn returns the day parts of a date in which the shop is open, with their spans.
func (p *drawing) partsOn(d models.Date) (parts []models.DayPart, spans []models.Span) {
	open := p.req.Site.OpenSpans(d)
	for _, part := range p.req.Site.DayParts {
		sp := p.req.Site.DayPartSpan(d, part)
		if slices.ContainsFunc(open, func(o models.Span) bool { return !o.Overlap(sp).Empty() }) {
			parts, spans = append(parts, part), append(spans, sp)
		}
	}
	return parts, spans
}

// days writes the names of the days and day parts.
func (p *drawing) days() {
	p.section(func(top float64) float64 {
		for _, d := range p.dates() {
			start, ok := p.dayStart(d)
			if !ok {
				continue
			}
			x := p.axis.X(start)
			p.text("day", "start", x, top+18, p.dayName(start, p.roomFor(d, x)))
			parts, spans := p.partsOn(d)
			for i, part := range parts {
				sp := spans[i].Overlap(models.Span{From: p.axis.From, To: p.axis.To})
				if sp.Empty() {
					continue
				}
				from, to := p.axis.X(sp.From), p.axis.X(sp.To)
				p.open("g", "detail", "role", "img", "aria-label", p.say("picture.part", "part", part.Code, "from", p.q.SetClock(part.From), "to", p.q.SetClock(part.To)))
				if p.m.width(part.Code)*0.92 <= to-from-6 { // half a name says less than none; its card says it whole
					p.text("part-name", "start", from+4, top+38, part.Code)
				}
				p.close("g")
			}
		}
		return 46
	})
}

// roomFor is the width available for a day's name.
func (p *drawing) roomFor(d models.Date, x float64) float64 {
	if next, ok := p.dayStart(d.AddDays(1)); ok {
		return p.axis.X(next) - x - 12
	}
	return p.axis.Right() - x
}

// dayName is the longest name of a day that fits.
func (p *drawing) dayName(t time.Time, width float64) string {
	for _, words := range []string{p.q.Day(t), p.q.Weekday(t)} {
		if p.m.width(words)*1.55 <= width {
			return words
		}
	}
	return p.q.ShortWeekday(t)
}

// dayStart returns the start of a date's working hours within the drawing.
func (p *drawing) dayStart(d models.Date) (time.Time, bool) {
	for _, sp := range p.req.Site.StaffSpans(d) {
		if sp = sp.Overlap(models.Span{From: p.axis.From, To: p.axis.To}); !sp.Empty() {
			return sp.From, true
		}
	}
	return time.Time{}, false
}

// fit truncates a text to a width.
func (p *drawing) fit(s string, width float64) string {
	if p.m.width(s)*0.92 <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && p.m.width(string(r)+"…")*0.92 > width {
		r = r[:len(r)-1]
	}
	return strings.TrimSpace(string(r)) + "…"
}

// columns draws the background: day parts, midnights, lines between sections.
func (p *drawing) columns(h float64) string {
	var c canvas
	for _, d := range p.dates() {
		_, spans := p.partsOn(d)
		for i, sp := range spans {
			if sp = sp.Overlap(models.Span{From: p.axis.From, To: p.axis.To}); sp.Empty() {
				continue
			}
			class := "part"
			if i%2 == 1 {
				class = "part odd"
			}
			c.rect(class, p.axis.X(sp.From), 26, p.axis.X(sp.To)-p.axis.X(sp.From), h-30)
		}
		if midnight := d.At(0, p.loc); midnight.After(p.axis.From) && p.axis.Holds(midnight) && !p.axis.working(midnight) {
			x := p.axis.X(midnight)
			c.line("midnight", x, 26, x, h-4)
		}
	}
	for _, y := range p.rules {
		c.line("rule", p.axis.Left(), y, p.axis.Right(), y)
	}
	return c.b.String()
}

// hours labels every third working hour, or every second if there is room.
func (p *drawing) hours() {
	p.section(func(top float64) float64 {
		step := 3
		if len(p.axis.People) > 0 {
			sp := p.axis.People[0]
			if (p.axis.X(sp.To)-p.axis.X(sp.From))/sp.To.Sub(sp.From).Hours() > 26 {
				step = 2
			}
		}
		lastX, ticks := -100.0, ""
		for t := p.axis.From.Truncate(time.Hour); !t.After(p.axis.To); t = t.Add(time.Hour) {
			if !p.axis.Holds(t) || t.In(p.loc).Minute() != 0 {
				continue
			}
			x := p.axis.X(t)
			if !p.axis.working(t) {
				continue
			}
			if t.In(p.loc).Hour()%step == 0 && x-lastX > 34 && x < p.axis.Right()-12 {
				ticks += "M" + num(x) + " " + num(top) + "v6"
				p.text("hour", "middle", x, top+19, p.q.FullHour(t))
				lastX = x
			} else {
				ticks += "M" + num(x) + " " + num(top) + "v3"
			}
		}
		p.path("tick", ticks)
		return 26
	})
}
