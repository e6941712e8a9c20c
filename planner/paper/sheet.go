package paper

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// PrepSheet writes a prep sheet, in the site's time: a chart of the day, then its lines in order of time, those that want a mark with a
// tick box and room for the amount actually made. plan is the plan of the sheet; with a zero one there is no chart. It is one page if that is
// readable at arm's length, otherwise as few as possible.
func PrepSheet(setup models.Setup, sheet models.PrepSheet, plan models.Plan, size Size) ([]byte, error) {
	d := newDoc(setup.Site, size.Width, size.Height, "paper.sheet.title", sheet.Date, sheet.PublishedAt)
	d.sheet(setup, sheet, plan)
	return d.bytes()
}

func siteName(s models.Site) string { return cmp.Or(s.Name, s.Code) }

// layout is a layout of the sheet.
type layout struct {
	scale float64 // of the type
	white float64 // space between tasks, mm
	why   bool    // with the reasons of tasks
}

// layouts are tried in order; smaller than the last, numbers are not readable at arm's length.
var layouts = []layout{{1.1, 2.4, true}, {1, 2.2, true}, {1, 2.2, false}, {0.92, 1.6, false}, {0.85, 1.2, false}, {0.82, 1, false}}

// part is a piece of a sheet that is not split over pages.
type part struct {
	height       float64
	keepWithNext bool // keep on the same page as the next part
	draw         func(y float64)
}

// sheetPages is a sheet being written.
type sheetPages struct {
	*doc
	layout
	setup *models.Setup
	sheet *models.PrepSheet
	plan  *models.Plan
	loc   *time.Location
	noon  time.Time
}

// sheet adds the pages of a prep sheet.
func (d *doc) sheet(setup models.Setup, sheet models.PrepSheet, plan models.Plan) {
	p := &sheetPages{doc: d, setup: &setup, sheet: &sheet, plan: &plan, loc: setup.Site.Location()}
	p.noon = sheet.Date.At(720, p.loc)
	var best [][]part
	var look layout
	for _, l := range layouts {
		p.layout = l
		if pages := p.pages(p.parts()); best == nil || len(pages) < len(best) {
			best, look = pages, l
		}
		if len(best) == 1 {
			break
		}
	}
	p.layout = look
	for i, page := range best {
		p.addPage()
		y := p.head(i+1, len(best))
		for _, part := range page {
			part.draw(y)
			y += part.height
		}
	}
}

func (p *sheetPages) pt(size float64) float64 { return size * p.scale }

// Font sizes at scale 1; the numbers of a task are the largest, as people look for them first.
const (
	saySize     = 10.2
	numberSize  = 12.2
	whySize     = 7.6
	cautionSize = 8.2
)

const headHeight = 14

func (p *sheetPages) head(page, pages int) (bottom float64) {
	p.ink(black)
	day := p.DayYear(p.noon)
	p.font("B", 19)
	p.text(margin, margin+5.5, day)
	used := p.widthOf(day)
	p.font("B", 10.5)
	name := siteName(p.setup.Site)
	if room := p.width - 2*margin - used - 6; p.widthOf(name) <= room {
		p.textEnd(p.width-margin, margin+5.5, name)
	} else {
		size := 8.0
		lines := p.wrap(name, size, size, true, room)
		for ; float64(len(lines))*mm(size)*1.15 > 7 && size > 3; lines = p.wrap(name, size, size, true, room) {
			size -= 0.5
		}
		for i, l := range lines {
			p.line(p.width-margin-room, margin+mm(size)*(0.9+1.15*float64(i)), l)
		}
	}
	p.font("", 8)
	p.ink(grey)
	p.text(margin, margin+10.2, p.Say("paper.sheet.status", "revision", p.sheet.Revision, "published", p.Near(p.sheet.PublishedAt, p.noon)))
	if pages > 1 {
		p.textEnd(p.width-margin, margin+10.2, p.Say("paper.page", "page", page, "pages", pages))
	}
	return margin + headHeight - 1.5
}

// pages distributes the parts over pages.
func (p *sheetPages) pages(parts []part) [][]part {
	bottom := p.height - margin
	var out [][]part
	var page []part
	y := float64(margin + headHeight)
	for i, x := range parts {
		need := x.height
		for j := i; parts[j].keepWithNext && j+1 < len(parts); j++ {
			need += parts[j+1].height
		}
		if y+need > bottom && len(page) > 0 {
			out, page, y = append(out, page), nil, margin+headHeight
		}
		page, y = append(page, x), y+x.height
	}
	return append(out, page)
}

func (p *sheetPages) parts() []part {
	var out []part
	if pic, ok := p.dayChart(); ok {
		h := pic.draw(0, true)
		out = append(out, part{height: h, draw: func(y float64) { pic.draw(y, false) }})
	}
	if len(p.sheet.Changes) > 0 {
		out = append(out, p.list(p.Say("paper.changes"), p.sheet.Changes, "")...)
	}
	var seen cautionList
	lines := p.sheet.Lines()
	for i := range lines {
		seen.add(p.ofTask(&lines[i])...)
	}
	for i, c := range seen {
		out = append(out, p.caution(i+1, c))
	}
	for i := range lines {
		out = append(out, p.task(&lines[i], seen))
	}
	if len(lines) == 0 {
		out = append(out, part{height: 8, draw: func(y float64) {
			p.ink(black)
			p.font("B", 12)
			p.text(margin, y+6, p.Say("paper.nothing"))
		}})
	}
	var rest []string
	for _, c := range ofSheet(p.sheet) {
		if !seen.has(c) {
			rest = append(rest, c.text)
		}
	}
	return append(out, p.list(p.Say("paper.care"), rest, p.Say("paper.above"))...)
}

func (p *sheetPages) dayChart() (*chart, bool) {
	people := p.setup.Site.StaffSpans(p.sheet.Date)
	if len(people) == 0 || len(p.plan.Ice.Levels) == 0 {
		return nil, false
	}
	return &chart{doc: p.doc, setup: p.setup, plan: p.plan, loc: p.loc, span: models.Span{From: people[0].From, To: people[len(people)-1].To},
		left: margin, x0: margin + 24, x1: p.width - margin, pt: 6.8, row: 3.2, tide: 9 + 6*p.scale}, true
}

// caution is a caution of the tasks with its number, which stands beside them.
func (p *sheetPages) caution(n int, c caution) part {
	left := margin + 5.5*p.scale
	lines := p.wrap(c.text, p.pt(cautionSize), p.pt(cautionSize), false, p.width-margin-left)
	step := mm(p.pt(cautionSize)) * 1.22
	return part{height: step*float64(len(lines)) + 0.4, keepWithNext: true, draw: func(y float64) {
		p.ink(black)
		p.font("B", p.pt(cautionSize))
		p.text(margin, y+mm(p.pt(cautionSize)), p.Say("paper.care.number", "n", n))
		for i, l := range lines {
			p.line(left, y+step*float64(i)+mm(p.pt(cautionSize)), l)
		}
	}}
}

// Columns of a task besides its text: tick box, time, actual amount; mm.
const (
	boxWidth   = 7.6
	timeWidth  = 19.2
	writeWidth = 24.0
)

// task is a line of the sheet. Its cautions are named by their numbers among those of the sheet.
func (p *sheetPages) task(t *models.Task, care cautionList) part {
	words := t.Say
	switch t.State {
	case models.Made, models.Skipped, models.Started:
		words = "(" + p.Say("paper.state."+t.State) + ") " + words
	}
	var numbers []string
	for _, c := range p.ofTask(t) {
		numbers = append(numbers, p.Say("paper.care.number", "n", care.index(c)+1))
	}
	if len(numbers) > 0 {
		words += " " + strings.Join(numbers, " ")
	}
	sayAt := margin + (boxWidth+timeWidth)*p.scale
	unit := ""
	if t.WantsMark() {
		unit = p.unitOf(t.Kind)
	}
	width := p.width - margin - sayAt
	if unit != "" {
		width -= writeWidth
	}
	lines := p.wrap(words, p.pt(saySize), p.pt(numberSize), false, width)
	step := mm(p.pt(numberSize)) * 1.18
	var why []line
	whyStep := mm(p.pt(whySize)) * 1.2
	if p.why && t.Why != "" {
		why = p.wrap(p.Say("paper.why", "why", t.Why), p.pt(whySize), p.pt(whySize), false, width)
	}
	otherDay := models.DateOf(t.At, p.loc) != p.sheet.Date // show the weekday under the time
	rows := float64(len(lines))
	if otherDay {
		rows = max(rows, 1.6)
	}
	height := step*rows + whyStep*float64(len(why)) + p.white
	return part{height: height, draw: func(y float64) {
		base := y + p.white*0.4 + mm(p.pt(numberSize))*0.92
		if t.WantsMark() {
			p.tick(t.State, margin+0.5, y+p.white*0.5+0.2)
		}
		p.ink(black)
		p.font("B", p.pt(numberSize))
		timeAt := margin + boxWidth*p.scale
		if otherDay {
			p.font("", p.pt(whySize))
			p.text(timeAt, base+mm(p.pt(whySize))*1.15, p.Weekday(t.At))
		}
		clock, size := p.Clock(t.At), p.pt(numberSize)
		for p.font("B", size); p.widthOf(clock) > timeWidth*p.scale-2; p.font("B", size) {
			size -= 0.25
		}
		p.text(timeAt, base, clock)
		for i, l := range lines {
			p.line(sayAt, base+step*float64(i), l)
		}
		p.ink(grey)
		for i, l := range why {
			p.line(sayAt, base+step*float64(len(lines)-1)+whyStep*float64(i+1)+0.3, l)
		}
		p.writeBox(unit, p.width-margin-writeWidth+2, y+0.5, writeWidth-2, min(height-1, 9))
		p.rule(light, 0.15, margin, y+height, p.width-margin, y+height)
	}}
}

// tick draws the tick box, ticked if the task is done.
func (p *sheetPages) tick(state string, x, y float64) {
	side := 4.6 * p.scale
	p.frame(black, 0.35, x, y, side, side)
	if state == models.Made {
		p.pen(black, 0.6)
		p.pdf.Line(x+side*0.2, y+side*0.5, x+side*0.45, y+side*0.8)
		p.pdf.Line(x+side*0.45, y+side*0.8, x+side*0.85, y+side*0.15)
	}
}

// writeBox draws the box for the actual amount, in the given unit.
func (p *sheetPages) writeBox(unit string, x, y, w, h float64) {
	if unit == "" {
		return
	}
	p.frame(grey, 0.2, x, y, w, h)
	p.ink(grey)
	p.font("", p.pt(8))
	p.textEnd(x+w-1.2, y+h-1.4, unit)
}

// unitOf is the unit of the amount recorded for a kind of task; "" if it has none.
func (p *sheetPages) unitOf(kind string) string {
	switch kind {
	case models.TaskBrew, models.TaskChill, models.TaskStrain, models.TaskStore, models.TaskIceTake, models.TaskIceRefill, models.TaskIceCheck, models.TaskPull:
		return p.FineUnit()
	case models.TaskWaterDraw:
		return p.VolumeUnit()
	}
	return ""
}

// list is a list with a heading, whose items may be split over pages.
func (p *sheetPages) list(head string, items []string, last string) []part {
	var out []part
	step := mm(p.pt(cautionSize)) * 1.25
	out = append(out, part{height: mm(p.pt(10)) * 1.9, keepWithNext: true, draw: func(y float64) {
		p.ink(black)
		p.font("B", p.pt(10))
		p.text(margin, y+mm(p.pt(10))*1.4, head)
	}})
	for _, s := range append(slices.Clone(items), last) {
		if s == "" {
			continue
		}
		lines := p.wrap(s, p.pt(cautionSize), p.pt(cautionSize), false, p.width-2*margin-4)
		out = append(out, part{height: step*float64(len(lines)) + 0.6, draw: func(y float64) {
			p.ink(black)
			p.fill(black, margin+0.6, y+step*0.5, 1, 1)
			for i, l := range lines {
				p.line(margin+3.5, y+step*float64(i)+mm(p.pt(cautionSize)), l)
			}
		}})
	}
	return out
}
