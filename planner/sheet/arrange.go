package sheet

import (
	"slices"
	"time"

	"hotday/models"
)

// arrange merges the tasks that one person does in one go, and moves those that can wait or be done ahead to where hands are free.
func (w *sheetWriter) arrange() {
	on := map[string]models.Date{}
	var all []models.Task
	for _, d := range w.dates {
		day := slices.Clone(w.tasks[d])
		slices.SortFunc(day, inOrder)
		for _, t := range w.together(day) {
			on[t.ID] = d
			all = append(all, t)
		}
	}
	begunLines := map[string]bool{}
	for i := range all {
		begunLines[all[i].ID] = all[i].State != models.Due
	}
	days := w.workdays()
	all = days.layOut(all, func(t *models.Task) bool {
		return t.State != models.Due || begunLines[t.PartOf] || t.CountsAsDone(w.plan.ComputedAt)
	})
	w.tasks = map[models.Date][]models.Task{}
	for _, t := range all {
		d := on[t.ID]
		if t.PartOf == "" && t.State == models.Due { // it may have moved over midnight
			d = w.dateOf(t.At)
		}
		w.tasks[d] = append(w.tasks[d], t)
	}
}

// workdays is what the layout knows of the plan's days.
func (w *sheetWriter) workdays() *workday {
	d := &workday{presence: w.presence, hands: handsFree(w.plan.Hands), work: w.req.Site.Work(), makeLPerH: w.req.Water.MakeLPerH}
	if len(w.req.Site.People) == 0 {
		return d
	}
	var shifts []models.Shift
	for i := -2; i <= w.plan.Days; i++ {
		shifts = append(shifts, w.req.Site.Shifts(w.plan.From.AddDays(i))...)
	}
	d.onShift = func(t time.Time) int { return max(1, int(models.OnShiftAt(shifts, t))) }
	return d
}
