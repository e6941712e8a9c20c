package sheet

import (
	"slices"
	"time"

	"hotday/models"
)

// Stations of tasks that belong to no brewer, ice machine or tray.
const (
	stationWater = "water"
	stationBeans = "beans"
	stationStore = "cold store"
	stationShift = "shift"
)

// PrepSheets turns a plan into its prep sheets, one for each service day, with the tasks in order of time. Work before the first
// service day is on the first sheet. previous are the sheets published before, of any dates; of several for one date the one with the
// highest revision counts. A task keeps its id while its station, kind and subject stay the same, even if it moves. Started and made
// tasks stay as they are, whatever the plan says, and states are carried over. at is when the sheets are published.
func PrepSheets(req models.PlanRequest, plan models.Plan, previous []models.PrepSheet, at time.Time) []models.PrepSheet {
	w := newSheetWriter(&req, &plan, previous)
	w.batches()
	w.looks()
	w.ice()
	w.water()
	w.pulls()
	w.tempLogs()
	w.supplies()
	w.care()
	w.keepBegun()
	w.arrange()
	w.handovers()
	sheets := make([]models.PrepSheet, 0, len(w.dates))
	for _, d := range w.dates {
		sheet := models.PrepSheet{
			Site: req.Site.Code, Date: d, Revision: plan.Revision, PublishedAt: at, Changes: []string{},
			Cautions: orEmpty(plan.Cautions), CautionCodes: orEmpty(plan.CautionCodes), Tasks: orEmpty(w.tasks[d]),
		}
		slices.SortFunc(sheet.Tasks, inOrder)
		if old, ok := w.before[d]; ok {
			sheet.Delays = old.Delays
			sheet.Changes = sheetChanges(old.Tasks, sheet.Tasks, req.Setup, at)
		}
		sheets = append(sheets, sheet)
	}
	return sheets
}

// orEmpty copies a list; nil becomes empty, which JSON writes as [].
func orEmpty[T any](list []T) []T { return append([]T{}, list...) }

// sheetWriter turns a plan into the tasks of its dates.
type sheetWriter struct {
	wording
	req    *models.PlanRequest
	plan   *models.Plan
	dates  []models.Date
	before map[models.Date]models.PrepSheet
	old    map[string]models.Task // by id, over all dates
	tasks  map[models.Date][]models.Task
	placed map[string]bool // ids of tasks that are on a sheet already

	presence presence
}

func newSheetWriter(req *models.PlanRequest, plan *models.Plan, previous []models.PrepSheet) *sheetWriter {
	w := &sheetWriter{
		wording: newWording(&req.Setup), req: req, plan: plan,
		before: map[models.Date]models.PrepSheet{}, old: map[string]models.Task{}, tasks: map[models.Date][]models.Task{}, placed: map[string]bool{},
		presence: newPresence(req, plan),
	}
	for i := range max(plan.Days, 0) {
		w.dates = append(w.dates, plan.From.AddDays(i))
	}
	for _, s := range previous {
		if kept, ok := w.before[s.Date]; !ok || s.Revision >= kept.Revision {
			w.before[s.Date] = s
		}
	}
	for _, d := range w.dates {
		for _, t := range w.before[d].Tasks {
			w.old[t.ID] = t
		}
	}
	for _, m := range plan.Made { // marks that the plan knows of and the published sheet does not
		if t, ok := w.old[m.Task]; ok && m.State != "" {
			t.State = m.State
			w.old[m.Task] = t
		}
	}
	return w
}

// dateOf is the date of the sheet that lists something at an instant: its service day, within the days of the plan.
func (w *sheetWriter) dateOf(t time.Time) models.Date {
	d := w.req.Site.ServiceDayOf(t)
	if len(w.dates) == 0 {
		return d
	}
	return min(max(d, w.dates[0]), w.dates[len(w.dates)-1])
}

// put adds a task to the sheet of a date. From the previous sheet it keeps the state, and everything once the task has begun.
func (w *sheetWriter) put(date models.Date, t models.Task) {
	if w.placed[t.ID] {
		return
	}
	if old, ok := w.old[t.ID]; ok && w.over(&old) && t.Batch == nil && t.At.After(old.Until) {
		t.ID = w.again(date, t) // the plan wants it once more
		if w.placed[t.ID] {
			return
		}
	}
	w.placed[t.ID] = true
	switch t.Kind {
	case models.TaskTempLog, models.TaskCount, models.TaskClean: // what is written down is the point of them
		t.Mark = true
	}
	if old, ok := w.old[t.ID]; ok {
		if begun(old) || w.over(&old) {
			t = old
		} else if t.State == models.Due {
			t.State = old.State
		}
	}
	w.tasks[date] = append(w.tasks[date], t)
}

// again is the id of a task like one that is over already.
func (w *sheetWriter) again(date models.Date, t models.Task) string {
	id := t.ID
	for {
		id = taskID(w.req.Site.Code, date, t.Station, t.Kind, id)
		old, ok := w.old[id]
		if !ok || !w.over(&old) || !t.At.After(old.Until) {
			return id
		}
	}
}

// over reports whether a task of a published sheet had been done when the plan was made.
func (w *sheetWriter) over(t *models.Task) bool {
	return (begun(*t) || t.CountsAsDone(w.plan.ComputedAt)) && !t.Until.IsZero()
}

func begun(t models.Task) bool { return t.State == models.Started || t.State == models.Made }

// keepBegun carries over tasks that the plan no longer has: those begun, over or skipped, and later steps of begun ones.
func (w *sheetWriter) keepBegun() {
	for _, d := range w.dates {
		for _, t := range w.before[d].Tasks {
			if old := w.old[t.ID]; !w.placed[t.ID] && (old.State != models.Due || w.over(&old)) {
				w.put(d, old)
			}
		}
		for _, t := range w.before[d].Tasks {
			if !w.placed[t.ID] && w.followsBegun(t) {
				w.put(d, t)
			}
		}
	}
}

// followsBegun reports whether a due task is a later step of a begun one: chilling, straining or storing a batch, emptying a tray.
func (w *sheetWriter) followsBegun(t models.Task) bool {
	for _, o := range w.old {
		if !begun(o) {
			continue
		}
		sameBatch := o.Kind == models.TaskBrew && (t.Kind == models.TaskChill || t.Kind == models.TaskStrain || t.Kind == models.TaskStore) &&
			o.Batch != nil && t.Batch != nil && o.Station == t.Station && o.Batch.Start.Equal(t.Batch.Start)
		if sameBatch || emptiesWhatItFilled(o, t) {
			return true
		}
	}
	return false
}

// emptiesWhatItFilled reports whether task t empties a load that task o has filled.
func emptiesWhatItFilled(o, t models.Task) bool {
	fills := o.Kind == models.TaskIceFill || o.Kind == models.TaskIceRefill
	empties := t.Kind == models.TaskIceTake || t.Kind == models.TaskIceRefill
	if !fills || !empties || o.Station != t.Station || o.ID == t.ID || o.Quota == nil || t.Quota == nil {
		return false
	}
	return slices.ContainsFunc(o.Quota.Loads, func(a models.IceLoad) bool {
		return a.FillAt.Equal(o.At) && slices.ContainsFunc(t.Quota.Loads, func(b models.IceLoad) bool {
			return b.TakeAt.Equal(t.At) && a.FillAt.Equal(b.FillAt) && a.TakeAt.Equal(b.TakeAt)
		})
	})
}
