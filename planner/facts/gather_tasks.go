package facts

import (
	"slices"
	"time"

	"hotday/models"
)

// markedTask is a task marked as started or made, as of now.
type markedTask struct {
	task  models.Task
	start time.Time       // when it began, as far as the marks say
	mark  models.TaskMark // the current one
}

// daysUnderWay is the number of service days before today from which a task may still matter: the longest steep and hold.
const daysUnderWay = 14

// underWay reads the tasks marked as started or made, of the days of the plan and of earlier days that extend into it. Tasks of
// replaced sheets are included: they were done all the same.
func (g *gathering) underWay() error {
	if err := g.doneTasks(g.today.AddDays(-daysUnderWay), g.q.From.AddDays(g.q.Days)); err != nil {
		return err
	}
	g.dropStaleTasks()
	for i := range g.tasks {
		rows := g.rows(&g.tasks[i])
		g.r.UnderWay = append(g.r.UnderWay, rows...)
		if u := rows[0]; u.Kind == models.TaskIceRefill && u.Mould != nil { // its row says what was filled
			u.Kind, u.State, u.G = models.TaskIceTake, models.Made, new(g.tasks[i].emptied())
			g.r.UnderWay = append(g.r.UnderWay, u)
		}
	}
	return nil
}

// doneTasks reads the tasks of the dates from ≤ d < to that are marked as started or made, or count as done.
func (g *gathering) doneTasks(from, to models.Date) error {
	marks, err := g.st.Marks(g.ctx, g.q.Site, from, to)
	if err != nil {
		return err
	}
	sheets, err := g.st.Sheets(g.ctx, g.q.Site, from, to)
	if err != nil {
		return err
	}
	known := map[string]models.Task{}
	for _, s := range sheets {
		for _, t := range s.Tasks {
			known[t.ID] = t
		}
	}
	for _, of := range byTask(marks, g.q.Now) {
		m, ok := models.CurrentMark(of)
		if !ok || m.State != models.Started && m.State != models.Made {
			continue
		}
		t, ok := known[m.Task]
		if !ok {
			if _, _, t, _, err = g.st.Task(g.ctx, m.Task); err != nil {
				return err
			}
		}
		g.tasks = append(g.tasks, markedTask{task: t, mark: m, start: startOf(t, of, m)})
	}
	g.onTime(sheets, marks)
	return nil
}

// onTime adds the tasks that nobody has marked and whose time is over: they count as done on time. It leaves out batches with a mark on
// another of their tasks.
func (g *gathering) onTime(sheets []models.PrepSheet, marks []models.TaskMark) {
	marked := map[string]bool{}
	for _, m := range marks {
		if !m.At.After(g.q.Now) {
			marked[m.Task] = true
		}
	}
	batches := map[string]bool{}
	for _, s := range sheets {
		for _, t := range s.Tasks {
			if marked[t.ID] && t.Batch != nil {
				batches[t.Batch.ID] = true
			}
		}
	}
	for _, s := range sheets {
		for _, t := range s.Tasks {
			if m, ok := assumed(&t, g.q.Now); ok && !marked[t.ID] && (t.Batch == nil || !batches[t.Batch.ID]) {
				g.tasks = append(g.tasks, markedTask{task: t, mark: m, start: t.PlannedAt()})
			}
		}
	}
}

// assumed is the mark that a task without one counts as having. A batch counts as begun when its brewer is filled, and as made once it
// should be ready. Tasks stored by earlier versions, which do not say when they end, count as not done.
func assumed(t *models.Task, now time.Time) (m models.TaskMark, ok bool) {
	if t.Until.IsZero() || t.Until.After(now) || t.PartOf != "" {
		return m, false
	}
	m = models.TaskMark{Task: t.ID, State: models.Made, At: t.Until}
	switch t.Kind {
	case models.TaskBrew:
		if t.Batch == nil {
			return m, false
		}
		if t.Batch.Ready.After(now) {
			m.State = models.Started
		} else {
			m.At = t.Batch.Ready
		}
	case models.TaskIceFill, models.TaskIceTake, models.TaskIceRefill, models.TaskWaterDraw, models.TaskPull:
	default:
		return m, false
	}
	return m, true
}

// byTask groups marks by task, in the order of each task's first mark, leaving out marks later than now.
func byTask(marks []models.TaskMark, now time.Time) [][]models.TaskMark {
	var groups [][]models.TaskMark
	index := map[string]int{}
	for _, m := range marks {
		if m.At.After(now) {
			continue
		}
		i, ok := index[m.Task]
		if !ok {
			i = len(groups)
			index[m.Task] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], m)
	}
	return groups
}

// startOf is when a task began: its mark as started; else its planned time or, if it was made earlier than that, the time of that
// mark. For the later steps of a batch it is when the batch began.
func startOf(t models.Task, marks []models.TaskMark, current models.TaskMark) time.Time {
	start := t.At
	if t.Batch != nil {
		start = t.Batch.Start
	}
	for _, m := range marks {
		if m.State == models.Started && (t.Batch == nil || t.Kind == models.TaskBrew) {
			start = m.At
		}
	}
	if current.At.Before(start) {
		start = current.At
	}
	return start
}

// dropStaleTasks drops tasks of beverages that are no longer in the set-up, batches that passed their use-by before today, and
// other tasks of more than two days ago, whose results have been used up or counted.
func (g *gathering) dropStaleTasks() {
	hold := map[string]float64{}
	for i := range g.r.Beverages {
		b := &g.r.Beverages[i]
		hold[b.Code] = g.r.Site.HoldH(b)
	}
	today := g.today.At(0, g.r.Site.Location())
	g.tasks = slices.DeleteFunc(g.tasks, func(t markedTask) bool {
		if t.task.Kind == models.TaskMix { // a concentrate is kept for a week
			return t.task.At.Before(today.AddDate(0, 0, -7))
		}
		if t.task.Batch == nil {
			return t.task.At.Before(today.AddDate(0, 0, -2))
		}
		h, known := hold[t.task.Batch.Beverage]
		return !known || t.readyAt().Add(models.Hours(h)).Before(today)
	})
}

// rows are the rows of the request for a task: one, and of several beans got out at once one each.
func (g *gathering) rows(t *markedTask) []models.UnderWay {
	var out []models.UnderWay
	for _, p := range t.task.Pulls {
		u := models.UnderWay{Task: t.task.ID, Kind: t.task.Kind, State: t.mark.State, Start: t.start}
		u.Coffee, u.Lot, u.G = g.coffee(p.Coffee), &p.Lot, &p.G
		out = append(out, u)
	}
	if out == nil {
		out = append(out, g.row(t))
	}
	return out
}

func (g *gathering) row(t *markedTask) models.UnderWay {
	u := models.UnderWay{Task: t.task.ID, Kind: t.task.Kind, State: t.mark.State, Start: t.start}
	switch {
	case t.task.Reading != nil:
		u.TempC, u.LimitC, u.Start = t.mark.TempC, &t.task.Reading.LimitC, t.mark.At
		if t.task.Batch != nil {
			u.Beverage = &t.task.Batch.Beverage
		}
	case t.task.Batch != nil:
		b := t.task.Batch
		u.Brewer, u.Beverage, u.BeverageG = g.brewer(b.Brewer), &b.Beverage, new(t.grams())
		if t.task.Kind == models.TaskBrew && g.steeping(t) {
			u.State = models.Started // it was filled; it is not beverage before it is strained
		}
	case t.task.Choice != nil:
		u.Beverage, u.G, u.Start = &t.task.Choice.Beverage, t.mark.LeftG, t.mark.At
	case t.task.Quota != nil:
		if u.Mould = g.mould(t.task.Quota.Maker); u.Mould != nil && t.task.Kind == models.TaskIceTake {
			u.G = new(t.emptied())
		} else if u.Mould != nil {
			u.G = new(t.filled())
		} else {
			u.G = t.mark.IceG
		}
	case t.task.Draw != nil:
		u.L = &t.task.Draw.DrawL
	case t.task.Mix != nil:
		g := 0.0
		for _, s := range t.task.Mix.Salts {
			g += s.G
		}
		u.Lot, u.G, u.L = &t.task.Mix.Code, &g, new(t.task.Mix.MakesML/1000)
	}
	return u
}

// grams is the finished beverage of a batch: as weighed, else as planned.
func (t *markedTask) grams() float64 {
	if t.mark.BeverageG != nil {
		return *t.mark.BeverageG
	}
	return t.task.Batch.BeverageG
}

// emptied is the ice that came out of trays: as it was weighed, else that of the loads of the task.
func (t *markedTask) emptied() float64 {
	if t.mark.IceG != nil {
		return *t.mark.IceG
	}
	return t.loads(func(l models.IceLoad) time.Time { return l.TakeAt })
}

// filled is the ice that trays were filled for.
func (t *markedTask) filled() float64 {
	if t.mark.IceG != nil && t.task.Kind == models.TaskIceFill {
		return *t.mark.IceG
	}
	return t.loads(func(l models.IceLoad) time.Time { return l.FillAt })
}

// loads is the ice of the loads that a task is about at its time, else of the quota's first.
func (t *markedTask) loads(at func(models.IceLoad) time.Time) float64 {
	g := 0.0
	for _, l := range t.task.Quota.Loads {
		if at(l).Equal(t.task.PlannedAt()) {
			g += l.G
		}
	}
	switch {
	case g > 0:
		return g
	case len(t.task.Quota.Loads) > 0:
		return t.task.Quota.Loads[0].G
	}
	return t.task.Quota.MakeG
}

// steeping reports whether a batch is steeping, not strained yet.
func (g *gathering) steeping(brew *markedTask) bool {
	b := brew.task.Batch
	if b.StrainAt.IsZero() {
		return false
	}
	for i := range g.tasks {
		t := &g.tasks[i]
		if t.task.Kind == models.TaskStrain && t.task.Batch != nil && t.task.Batch.ID == b.ID && t.mark.State == models.Made {
			return false
		}
	}
	return brew.readyAt().After(g.q.Now)
}

// readyAt is when a batch that began at start can be served.
func (t *markedTask) readyAt() time.Time {
	return t.start.Add(t.task.Batch.Ready.Sub(t.task.Batch.Start))
}

func (g *gathering) brewer(code string) *string {
	for i := range g.r.Brewers {
		if g.r.Brewers[i].Code == code {
			return &code
		}
	}
	return nil
}

func (g *gathering) mould(code string) *string {
	for i := range g.r.Ice.Moulds {
		if g.r.Ice.Moulds[i].Code == code {
			return &code
		}
	}
	return nil
}

func (g *gathering) coffee(code string) *string {
	for i := range g.r.Coffees {
		if g.r.Coffees[i].Code == code {
			return &code
		}
	}
	return nil
}
