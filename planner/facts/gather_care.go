package facts

import (
	"slices"

	"hotday/models"
)

// care takes the last time that each care task was done from the marks on clean tasks, where they are later than the set-up's
// last_done. Only the request changes, not the stored set-up. Marks are read as far back as the longest interval of the site's care.
func (g *gathering) care() error {
	if len(g.r.Site.Care) == 0 {
		return nil
	}
	back := daysUnderWay
	for i := range g.r.Site.Care {
		back = max(back, g.r.Site.Care[i].EveryDays)
	}
	from, to := g.today.AddDays(-back), g.q.From.AddDays(g.q.Days)
	tasks, err := g.st.TasksOfKind(g.ctx, g.q.Site, models.TaskClean, from, to)
	if err != nil || len(tasks) == 0 {
		return err
	}
	marks, err := g.st.Marks(g.ctx, g.q.Site, from, to)
	if err != nil {
		return err
	}
	code := map[string]string{} // of the care, by task
	for i := range tasks {
		if tasks[i].Care != nil {
			code[tasks[i].ID] = tasks[i].Care.Code
		}
	}
	done := map[string]models.Date{}
	for _, of := range byTask(marks, g.q.Now) {
		m, ok := models.CurrentMark(of)
		if c := code[of[0].Task]; ok && c != "" && m.State == models.Made {
			done[c] = max(done[c], g.r.Site.ServiceDayOf(m.At))
		}
	}
	g.r.Site.Care = slices.Clone(g.r.Site.Care)
	for i := range g.r.Site.Care {
		c := &g.r.Site.Care[i]
		if d := done[c.Code]; d != "" && (c.LastDone == nil || *c.LastDone < d) {
			c.LastDone = &d
		}
	}
	return nil
}
