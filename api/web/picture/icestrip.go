package picture

import (
	"html"
	"html/template"
	"strconv"
	"time"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say"
)

// IceChart draws only the ice level with days and hours. topG is the mass at the top of the scale, g, equal for plans to be compared;
// 0: chosen for this plan.
func IceChart(req models.PlanRequest, plan models.Plan, f Frame, topG float64) template.HTML {
	if topG <= 0 {
		topG = ScaleTop(req, plan)
	}
	p := &drawing{req: &req, plan: &plan, loc: req.Site.Location(), q: say.WriterFor(req.Site), say: texts.For(req.Site.Language).Say, narrow: true,
		axis: NewAxis(req.Site, f.From, f.To, 46, f.Width-6), topG: topG}
	p.m = measure{size: 13}
	p.days()
	p.section(func(top float64) float64 { p.iceChart(top, 170); return 174 })
	p.hours()
	return p.finish(f)
}

// ScaleTop is the mass at the top of a plan's own scale, g.
func ScaleTop(req models.PlanRequest, plan models.Plan) float64 {
	return scaleTop(plan.Ice.Levels, req.Ice.BinG)
}

// IceStrip draws a day's ice level as a strip with evenly spaced hours. The line at now has the class "now" (none if now is zero); the
// script moves it by data-from and data-to, in ms since 1970 over the strip's width.
func IceStrip(plan *models.Plan, from, to, now time.Time, q say.Writer, width, height float64) template.HTML {
	a := evenAxis(from, to, 0, width)
	var top float64 = 1000
	var shown []models.IceLevel
	for _, l := range plan.Ice.Levels {
		if a.Holds(l.At) {
			shown = append(shown, l)
			top = max(top, l.G, l.P90G)
		}
	}
	var c canvas
	c.m = measure{size: 15}
	s := iceScale{top: 24, base: height - 26, topG: 1.05 * top}
	var runOuts []models.RunOut
	for _, r := range plan.RunOuts() {
		if a.Holds(r.At) {
			runOuts = append(runOuts, r)
		}
	}
	c.raw(`<svg class="picture slim" viewBox="0 0 `, num(width), " ", num(height), `" role="img" aria-label="`, html.EscapeString(iceStripTitle(shown, runOuts, now, q)), `" data-from="`, ms(from), `" data-to="`, ms(to), `">`)
	c.iceArea(shown, a, s)
	c.rect("ground", 0, s.base, width, 4)
	for t := from.Truncate(time.Hour); !t.After(to); t = t.Add(time.Hour) {
		if x := a.X(t); t.In(q.Location()).Hour()%2 == 0 && x > 24 && x < width-24 {
			c.line("tick", x, s.base+4, x, s.base+9)
			c.text("hour", "middle", x, s.base+24, q.FullHour(t))
		}
	}
	var used rowPacker
	for _, t := range runOuts {
		words := runOutText(t, q)
		w := c.m.width(words) * 1.3
		x := min(max(a.X(t.At), w/2), width-w/2)
		c.line("leader", a.X(t.At), s.base, a.X(t.At), s.base-20)
		c.path("wedge", "M"+num(a.X(t.At)-9)+" "+num(s.base)+"L"+num(a.X(t.At)+9)+" "+num(s.base)+"L"+num(a.X(t.At))+" "+num(s.base-18)+"Z")
		c.text("tide-touch halo", "middle", x, s.base-24-22*float64(used.place(x-w/2, x+w/2)), words)
	}
	if !now.IsZero() {
		x := a.X(now)
		c.line("now", x, 0, x, s.base)
	}
	c.raw("</svg>")
	return template.HTML(c.b.String()) //nolint:gosec // every text is escaped where it is written
}

func iceStripTitle(levels []models.IceLevel, runOuts []models.RunOut, now time.Time, q say.Writer) string {
	c := texts.For(q.SiteLanguage())
	s := c.Say("picture.slim")
	if l, ok := LevelAt(levels, now); ok {
		s = c.Say("picture.slim_now", "mass", q.GlanceMass(l.G))
	}
	for _, t := range runOuts {
		s += c.Say("picture.slim_touch", "what", runOutText(t, q))
	}
	return s
}

// LevelAt returns the last level at or before t.
func LevelAt(levels []models.IceLevel, t time.Time) (at models.IceLevel, ok bool) {
	for _, l := range levels {
		if l.At.After(t) {
			break
		}
		at, ok = l, true
	}
	return at, ok
}

// evenAxis has equally wide hours.
func evenAxis(from, to time.Time, x0, x1 float64) Axis {
	return Axis{From: from, To: to, at: []time.Time{from, to}, x: []float64{x0, x1}}
}

func ms(t time.Time) string { return strconv.FormatInt(t.UnixMilli(), 10) }
