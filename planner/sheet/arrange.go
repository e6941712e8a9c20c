package sheet

import (
	"slices"

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
		w.tasks[on[t.ID]] = append(w.tasks[on[t.ID]], t)
	}
}

// workdays is what the layout knows of the plan's days, of the day before the first and of the day after the last.
func (w *sheetWriter) workdays() *workday {
	d := &workday{from: w.plan.ComputedAt, hands: handsFree(w.plan.Hands), work: w.req.Site.Work()}
	for i := -1; i <= w.plan.Days; i++ {
		d.present = append(d.present, w.req.Site.StaffSpans(w.plan.From.AddDays(i))...)
	}
	d.present = models.Merged(d.present)
	for _, a := range w.req.Attention {
		if a.Starts == 0 {
			d.shut = append(d.shut, models.Span{From: a.From, To: a.To})
		}
	}
	return d
}
