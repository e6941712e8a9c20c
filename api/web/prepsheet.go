package web

import (
	"html/template"
	"io"
	"slices"
	"time"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/say"
)

// sheetView is a printed prep sheet: a block per station, in order of the first task.
type sheetView struct {
	head
	Date           models.Date
	Day, Published string
	Revision       int
	Changes        []string
	Cautions       []string
	IceChart       template.HTML
	Stations       []sheetStation
}

type sheetStation struct {
	Heading string
	Name    string
	Tasks   []sheetLine
}

type sheetLine struct {
	ID, State, Clock, Stamp string
	Mark                    string // text of the box if the task is marked
	Say                     template.HTML
	Caution, Why, Unit      string
	Finished                bool // made or skipped
}

// WritePrepSheet writes a sheet as a page to print, in the site's local time. plan is the sheet's plan, for the ice chart; it may be
// zero.
func WritePrepSheet(w io.Writer, setup models.Setup, sheet models.PrepSheet, plan models.Plan) error {
	site, loc := setup.Site, setup.Site.Location()
	noon, q := sheet.Date.At(720, loc), voiceOf(site)
	v := sheetView{head: head{Title: q.Say("sheet.title", "site", siteName(site), "day", q.Day(noon)), SiteName: siteName(site), voice: q}, Date: sheet.Date,
		Day: q.DayYear(noon), Published: q.Near(sheet.PublishedAt, noon), Revision: sheet.Revision,
		Changes: sheet.Changes, Cautions: sheet.Cautions}
	if span, ok := workingHours(site, sheet.Date); ok && len(plan.Ice.Levels) > 0 {
		v.IceChart = picture.IceStrip(plan.Ice.Levels, span.From, span.To, time.Time{}, q.Writer, 900, 110)
	}
	shown := map[string]bool{}
	for _, t := range sheet.Lines() {
		line := sheetLine{ID: t.ID, State: t.State, Clock: q.Near(t.At, noon), Stamp: t.At.In(loc).Format(time.RFC3339), Say: emphasiseNumbers(t.Say), Why: t.Why,
			Finished: t.State == models.Made || t.State == models.Skipped}
		if t.State != models.Due {
			line.Mark = q.Say("sheet.state." + t.State)
		}
		if key := t.Station + "\x00" + t.CautionKey(); !shown[key] { // once per station, since repeated cautions go unread
			shown[key] = true
			line.Caution = t.Caution
		}
		switch t.Kind {
		case models.TaskBrew, models.TaskChill, models.TaskStrain, models.TaskStore, models.TaskIceTake, models.TaskIceRefill, models.TaskIceCheck, models.TaskPull:
			line.Unit = q.FineUnit()
		case models.TaskWaterDraw:
			line.Unit = q.VolumeUnit()
		}
		i := slices.IndexFunc(v.Stations, func(s sheetStation) bool { return s.Name == t.Station })
		if i < 0 {
			i = len(v.Stations)
			v.Stations = append(v.Stations, sheetStation{Name: t.Station, Heading: say.For(site).StationName(t.Station, &setup.Ice)})
		}
		v.Stations[i].Tasks = append(v.Stations[i].Tasks, line)
	}
	return templates[v.language()].ExecuteTemplate(w, "sheet", v)
}

// workingHours is the span from the first to the last working hour of a service day.
func workingHours(site models.Site, d models.Date) (models.Span, bool) {
	spans := site.StaffSpans(d)
	if len(spans) == 0 {
		return models.Span{}, false
	}
	return models.Span{From: spans[0].From, To: spans[len(spans)-1].To}, true
}
