package sheet

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// handovers adds a line at each change of shift: what is under way and what comes next.
func (w *sheetWriter) handovers() {
	for _, d := range w.dates {
		shifts := w.req.Site.Shifts(d)
		for _, at := range changesOfShift(shifts) {
			before, after := models.OnShiftAt(shifts, at.Add(-time.Second)), models.OnShiftAt(shifts, at)
			if before <= 0 || after <= 0 || !at.After(w.plan.ComputedAt) {
				continue
			}
			t := models.Task{
				ID: taskID(w.req.Site.Code, d, stationShift, models.TaskHandover, at.In(w.req.Site.Location()).Format("15:04")),
				At: at, Until: at, Station: stationShift, Kind: models.TaskHandover, State: models.Due,
			}
			t.Say = w.Say("sheet.handover", "now", w.underWayAt(at), "next", w.nextAfter(at))
			t.Why = w.Say("sheet.why_handover", "before", say.Number(before, 0), "after", say.Number(after, 0))
			w.put(d, t)
		}
	}
}

// changesOfShift are the times at which somebody comes or leaves, in order.
func changesOfShift(shifts []models.Shift) []time.Time {
	var out []time.Time
	for _, s := range shifts {
		out = append(out, s.From, s.To)
	}
	slices.SortFunc(out, time.Time.Compare)
	return slices.CompactFunc(out, time.Time.Equal)
}

// underWayAt lists the batches that are begun and not in the cold store at an instant.
func (w *sheetWriter) underWayAt(at time.Time) string {
	var out []string
	for _, d := range w.dates {
		for _, t := range w.tasks[d] {
			if t.Kind == models.TaskStore && t.State != models.Skipped && t.Until.After(at) && t.Batch.Start.Before(at) {
				out = append(out, w.Say("sheet.handover_now", "brewer", t.Batch.Brewer, "beverage", w.name(t.Beverage), "until", w.Moment(t.At, at)))
			}
		}
	}
	if len(out) == 0 {
		return w.Say("sheet.handover_none")
	}
	return strings.Join(out, w.Say("said.semicolon"))
}

// comesNext is how many tasks a handover names.
const comesNext = 2

// nextAfter lists the first lines of the sheet from an instant on.
func (w *sheetWriter) nextAfter(at time.Time) string {
	var lines []models.Task
	for _, d := range w.dates {
		for _, t := range w.tasks[d] {
			if t.PartOf == "" && t.Kind != models.TaskHandover && t.State != models.Skipped && !t.At.Before(at) {
				lines = append(lines, t)
			}
		}
	}
	slices.SortFunc(lines, inOrder)
	var out []string
	for _, t := range lines[:min(comesNext, len(lines))] {
		what := w.Place(t.Station)
		if t.Beverage != "" {
			what = w.Say("sheet.handover_what", "station", w.Place(t.Station), "beverage", w.name(t.Beverage))
		}
		out = append(out, w.Say("sheet.handover_next", "at", w.Moment(t.At, at), "what", what))
	}
	if len(out) == 0 {
		return w.Say("sheet.handover_none")
	}
	return strings.Join(out, w.Say("said.semicolon"))
}
