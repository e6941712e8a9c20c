package paper

import (
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Weekend writes a chart of each day of the plan, in landscape: temperature, expected servings, level of ice for drinks, and lanes
// for brewers and ice. Warnings and tasks due before the first day follow as text.
func Weekend(req models.PlanRequest, plan models.Plan, size Size) ([]byte, error) {
	d := newDoc(req.Site, size.Height, size.Width, "paper.plan.title", plan.From, plan.ComputedAt)
	d.weekend(req, plan)
	return d.bytes()
}

// Plan writes the charts of a plan's days, then the prep sheet of each.
func Plan(req models.PlanRequest, plan models.Plan, sheets []models.PrepSheet, size Size) ([]byte, error) {
	d := newDoc(req.Site, size.Height, size.Width, "paper.plan.title", plan.From, plan.ComputedAt)
	d.weekend(req, plan)
	d.width, d.height = size.Width, size.Height
	for _, s := range sheets {
		d.sheet(req.Setup, s, plan)
	}
	return d.bytes()
}

// dayBlock is a day's chart with its title.
type dayBlock struct {
	title  string
	height float64
	draw   func(y float64)
}

// Height of the page header, mm, and font size of the summary, points.
const (
	headRoom  = 10.5
	summaryPt = 8.8
)

func (d *doc) weekend(req models.PlanRequest, plan models.Plan) {
	loc := req.Site.Location()
	lines := d.wrap(plan.Summary.Text, summaryPt, summaryPt+0.01, false, d.width-2*margin)
	room := d.height - 2*margin - headRoom - mm(summaryPt)*1.25*float64(len(lines)) - 1
	blocks := d.dayBlocks(&req, &plan, loc, room)
	bottom := d.height - margin
	page := func() float64 {
		d.addPage()
		d.ink(black)
		d.font("B", 15)
		title := d.days(plan, loc)
		d.text(margin, margin+4.5, title)
		used := d.widthOf(title)
		d.font("B", 10)
		d.textFit("B", 10, 5, margin+used+8, margin+4.5, d.width-2*margin-used-8, siteName(req.Site))
		d.font("", 8)
		d.ink(grey)
		when := d.Day(plan.ComputedAt) + " " + d.Clock(plan.ComputedAt)
		made := d.Say("paper.plan.computed", "when", when)
		if plan.Revision > 0 {
			made = d.Say("paper.plan.revision", "revision", plan.Revision, "when", when)
		}
		d.text(margin, margin+8.8, made+" "+d.Say("paper.plan.legend"))
		return margin + headRoom
	}
	y := page()
	y = d.paragraph(y, plan.Summary.Text, summaryPt)
	y += 1
	for i, b := range blocks {
		if y+b.height > bottom && i > 0 {
			y = page()
		}
		d.ink(black)
		d.font("B", 11)
		d.text(margin, y+4.2, b.title)
		b.draw(y + 5.4)
		y += b.height + blockGap
	}
	d.notes(&req.Setup, &plan, y, bottom, page, loc)
}

// addPage starts a page with the document's current width and height.
func (d *doc) addPage() {
	d.pdf.AddPageFormat("P", sizeOf(d.width, d.height))
}

func (d *doc) days(plan models.Plan, loc *time.Location) string {
	first, last := plan.From.At(720, loc), plan.From.AddDays(max(plan.Days, 1)-1).At(720, loc)
	if plan.Days <= 1 {
		return d.DayYear(first)
	}
	return d.Days(first, last)
}

// dayBlocks makes each day's chart as tall as possible with two of them on the first page.
func (d *doc) dayBlocks(req *models.PlanRequest, plan *models.Plan, loc *time.Location, room float64) []dayBlock {
	all := func(scale float64) (out []dayBlock) {
		for i := range plan.Days {
			out = append(out, d.dayBlock(req, plan, loc, plan.From.AddDays(i), scale))
		}
		return out
	}
	for _, scale := range []float64{1.8, 1.5, 1.2, 1, 0.9, 0.8, 0.7} {
		out, height := all(scale), 0.0
		for _, b := range out[:min(2, len(out))] {
			height += b.height + blockGap
		}
		if height <= room {
			return out
		}
	}
	return all(1.2)
}

const blockGap = 2.5

func (d *doc) dayBlock(req *models.PlanRequest, plan *models.Plan, loc *time.Location, date models.Date, scale float64) dayBlock {
	people := req.Site.StaffSpans(date)
	title := d.Day(date.At(720, loc))
	if len(people) == 0 {
		return dayBlock{title: d.Say("paper.plan.closed", "day", title), height: 6, draw: func(float64) {}}
	}
	p := &chart{doc: d, setup: &req.Setup, plan: plan, loc: loc, span: models.Span{From: people[0].From, To: people[len(people)-1].To},
		left: margin, x0: margin + 28, x1: d.width - margin, pt: 7.4, row: min(max(3.2, 3.7*scale), 4.6), tide: 20 * scale, weather: req.Weather, heat: 9 * scale, servings: 12 * scale}
	return dayBlock{title: title, height: 5.4 + p.draw(0, true), draw: func(y float64) { p.draw(y, false) }}
}

// paragraph writes text over the width of the page and returns the lower edge.
func (d *doc) paragraph(y float64, s string, pt float64) float64 {
	lines := d.wrap(s, pt, pt+0.01, false, d.width-2*margin)
	d.ink(black)
	for _, l := range lines {
		y += mm(pt) * 1.25
		d.line(margin, y, l)
	}
	return y
}

// notes writes the warnings and the tasks due before the first day.
func (d *doc) notes(setup *models.Setup, plan *models.Plan, y, bottom float64, page func() float64, loc *time.Location) {
	const pt = 8.8
	var lines []string
	for _, w := range plan.Warnings {
		s := w.Cause
		if !say.CauseSaysWhen(w.Kind) {
			s = d.Say("warning.at", "at", d.At(w.At), "what", s)
		}
		if w.ChancePct > 0 && w.ChancePct < 100 && !say.CauseSaysChance(w.Kind) {
			s += " " + d.Say("paper.chance", "pct", d.Chance(w.ChancePct))
		}
		lines = append(lines, d.Say("warning.at", "at", d.WarningGrade(w.Grade), "what", s))
	}
	before := plan.From.At(0, loc)
	var first []string
	for _, b := range plan.Batches {
		if b.Start.Before(before) {
			first = append(first, d.Say("paper.plan.batch", "when", d.At(b.Start), "mass", d.GlanceMass(b.BeverageG), "beverage", beverageName(setup, b.Beverage), "brewer", b.Brewer))
		}
	}
	for _, p := range plan.Pulls {
		if p.PullBy.Before(before) {
			first = append(first, d.Say("paper.plan.pull", "when", d.At(p.PullBy), "mass", d.GlanceMass(p.G), "coffee", p.Coffee))
		}
	}
	if len(first) > 0 {
		lines = append(lines, d.Say("paper.plan.before", "tasks", strings.Join(first, d.Say("said.semicolon"))))
	}
	for _, s := range lines {
		if need := mm(pt) * 1.25 * float64(len(d.wrap(s, pt, pt+0.01, false, d.width-2*margin))); y+need > bottom {
			y = page()
		}
		y = d.paragraph(y, s, pt) + 0.8
	}
}
