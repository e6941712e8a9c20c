package web

import (
	"html/template"
	"io"
	"time"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/say"
)

// sheetView is a printed prep sheet: its lines in order of time.
type sheetView struct {
	head
	Date           models.Date
	Day, Published string
	Revision       int
	Changes        []string
	Cautions       []string
	IceChart       template.HTML
	Lines          []sheetLine
	Marks          bool // tasks can be ticked here
	Pounds         bool
	Now            time.Time
}

// SheetReader is whoever reads a prep sheet as a page. The zero value can't mark tasks, as on paper.
type SheetReader struct {
	MayMark bool              // tasks can be ticked on the page
	Marks   []models.TaskMark // of the sheet's tasks, in order of arrival, for the amounts made
	CSRF    string
	Now     time.Time
	Demo    DemoClock // nil: a usual service
}

type sheetLine struct {
	ID, State, Clock, Stamp string
	Mark                    string // text of the box if the task is marked
	Say                     template.HTML
	Caution, Why, Unit      string
	Finished                bool   // made or skipped
	Box                     bool   // to tick
	Ask                     bool   // to be answered on Kitchen
	Batch                   bool   // its amount can be written down
	Made                    string // the amount that was, in Unit; empty: none
}

// WritePrepSheet writes a sheet as a page to print, in the site's local time; a reader who may mark tasks ticks them there. plan is the
// sheet's plan, for the ice chart; it may be zero.
func WritePrepSheet(w io.Writer, setup models.Setup, sheet models.PrepSheet, plan models.Plan, by SheetReader) error {
	site, loc := setup.Site, setup.Site.Location()
	noon, q := sheet.Date.At(720, loc), voiceOf(site)
	v := sheetView{head: head{Title: q.Say("sheet.title", "site", siteName(site), "day", q.Day(noon)), SiteName: siteName(site), Site: site.Code, CSRF: by.CSRF, Pace: rateOf(by.Demo), voice: q},
		Date: sheet.Date, Marks: by.MayMark, Pounds: q.Pounds(), Now: by.Now,
		Day: q.DayYear(noon), Published: q.Near(sheet.PublishedAt, noon), Revision: sheet.Revision,
		Changes: sheet.Changes, Cautions: sheet.Cautions}
	if by.MayMark {
		v.Scripts = []string{"sheet.js"}
	}
	if span, ok := workingHours(site, sheet.Date); ok && len(plan.Ice.Levels) > 0 {
		v.IceChart = picture.IceStrip(&plan, span.From, span.To, time.Time{}, q.Writer, 900, 110)
	}
	shown, made := map[string]bool{}, amounts(by.Marks)
	for _, t := range sheet.Lines() {
		line := sheetLine{ID: t.ID, State: t.State, Clock: q.Near(t.At, noon), Stamp: t.At.In(loc).Format(time.RFC3339), Say: emphasiseNumbers(t.Say), Why: t.Why,
			Finished: t.State == models.Made || t.State == models.Skipped}
		if t.State != models.Due {
			line.Mark = q.Say("sheet.script.state." + t.State)
		}
		if key := t.CautionKey(); !shown[key] { // once, since repeated cautions go unread
			shown[key] = true
			line.Caution = t.Caution
		}
		if line.Box = t.WantsMark(); line.Box && t.Batch != nil {
			line.Unit, line.Batch = q.FineUnit(), t.State != models.Skipped && t.Kind != models.TaskDiscard
			if g, ok := made[t.ID]; ok {
				line.Made = q.typed(g / say.Per(line.Unit))
			}
		}
		line.Ask = t.Choice != nil
		v.Lines = append(v.Lines, line)
	}
	return templates[v.language()].ExecuteTemplate(w, "sheet", v)
}

// amounts are the g of finished beverage by task, from marks that count.
func amounts(marks []models.TaskMark) map[string]float64 {
	out := map[string]float64{}
	for task, m := range models.CurrentMarks(marks) {
		if m.BeverageG != nil {
			out[task] = *m.BeverageG
		}
	}
	return out
}

// workingHours is the span from the first to the last working hour of a service day.
func workingHours(site models.Site, d models.Date) (models.Span, bool) {
	spans := site.StaffSpans(d)
	if len(spans) == 0 {
		return models.Span{}, false
	}
	return models.Span{From: spans[0].From, To: spans[len(spans)-1].To}, true
}
