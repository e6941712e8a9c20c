package sheet

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Stations of tasks that belong to no brewer, maker or mould.
const (
	stationWater = "water"
	stationBeans = "beans"
	stationStore = "cold store"
)

// PrepSheets turns a plan into its prep sheets, one for each service day, tasks in order of time. What has to be done before
// the first service day begins stands on its sheet. previous are the sheets published before, of any dates; of several of one
// date the one with the highest revision counts. A task keeps its id while its station, kind and subject stay, also when it
// moves; started and made ones are kept as they are, whatever the plan says, and states are carried over. at is when the
// sheets are published.
func PrepSheets(req models.PlanRequest, plan models.Plan, previous []models.PrepSheet, at time.Time) []models.PrepSheet {
	w := newSheetWriter(&req, &plan, previous, at)
	w.batches()
	w.ice()
	w.water()
	w.pulls()
	w.keepBegun()
	sheets := make([]models.PrepSheet, 0, len(w.dates))
	for _, d := range w.dates {
		sheet := models.PrepSheet{
			Site: req.Site.Code, Date: d, Revision: plan.Revision, PublishedAt: at,
			Changes: []string{}, Cautions: slices.Clone(plan.Cautions), Tasks: w.tasks[d],
		}
		if sheet.Cautions == nil {
			sheet.Cautions = []string{}
		}
		if sheet.Tasks == nil {
			sheet.Tasks = []models.Task{}
		}
		slices.SortFunc(sheet.Tasks, func(a, b models.Task) int {
			return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Station, b.Station), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
		})
		if old, ok := w.before[d]; ok {
			sheet.Changes = sheetChanges(old.Tasks, sheet.Tasks, req.Setup, at)
		}
		sheets = append(sheets, sheet)
	}
	return sheets
}

// sheetWriter writes the tasks of a plan onto the sheets of its dates.
type sheetWriter struct {
	req  *models.PlanRequest
	plan *models.Plan
	say.Voice
	at     time.Time
	dates  []models.Date
	names  map[string]string // of beverages
	before map[models.Date]models.PrepSheet
	old    map[string]models.Task // by id, over all dates
	tasks  map[models.Date][]models.Task
	onPage map[string]bool // ids that stand on a sheet already
}

func newSheetWriter(req *models.PlanRequest, plan *models.Plan, previous []models.PrepSheet, at time.Time) *sheetWriter {
	w := &sheetWriter{
		req: req, plan: plan, Voice: say.For(req.Site), at: at,
		names: map[string]string{}, before: map[models.Date]models.PrepSheet{}, old: map[string]models.Task{},
		tasks: map[models.Date][]models.Task{}, onPage: map[string]bool{},
	}
	for i := range max(plan.Days, 0) {
		w.dates = append(w.dates, plan.From.AddDays(i))
	}
	for _, b := range req.Beverages {
		w.names[b.Code] = cmp.Or(b.Name, b.Code)
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
	for _, m := range plan.Made { // what the plan was told since the sheet was published
		if t, ok := w.old[m.Task]; ok && m.State != "" {
			t.State = m.State
			w.old[m.Task] = t
		}
	}
	return w
}

// page is the date of the sheet on which something at an instant stands.
func (w *sheetWriter) page(t time.Time) models.Date {
	d := w.req.Site.ServiceDayOf(t)
	if len(w.dates) == 0 {
		return d
	}
	return min(max(d, w.dates[0]), w.dates[len(w.dates)-1])
}

func (w *sheetWriter) name(beverage string) string { return cmp.Or(w.names[beverage], beverage) }

// put writes a task onto the sheet of a date. What the sheet before says of it stays: a state, and all of a task begun.
func (w *sheetWriter) put(date models.Date, t models.Task) {
	if w.onPage[t.ID] {
		return
	}
	w.onPage[t.ID] = true
	if old, ok := w.old[t.ID]; ok {
		if begun(old) {
			t = old
		} else if t.State == models.Due {
			t.State = old.State
		}
	}
	w.tasks[date] = append(w.tasks[date], t)
}

func begun(t models.Task) bool { return t.State == models.Started || t.State == models.Made }

// keepBegun carries over what the plan no longer has but the day does: tasks begun or skipped, and the steps that follow from
// one begun.
func (w *sheetWriter) keepBegun() {
	for _, d := range w.dates {
		for _, t := range w.before[d].Tasks {
			if w.old[t.ID].State != models.Due && !w.onPage[t.ID] {
				w.put(d, w.old[t.ID])
			}
		}
		for _, t := range w.before[d].Tasks {
			if !w.onPage[t.ID] && w.followsBegun(t) {
				w.put(d, t)
			}
		}
	}
}

// followsBegun reports whether a task that is due is a later step of one that is begun: the chilling or straining of a batch,
// the taking of a load.
func (w *sheetWriter) followsBegun(t models.Task) bool {
	for _, o := range w.old {
		if !begun(o) {
			continue
		}
		sameBatch := o.Kind == models.TaskBrew && (t.Kind == models.TaskChill || t.Kind == models.TaskStrain) &&
			o.Batch != nil && t.Batch != nil && o.Station == t.Station && o.Batch.Start.Equal(t.Batch.Start)
		sameLoad := o.Kind == models.TaskIceFill && t.Kind == models.TaskIceTake && o.Station == t.Station &&
			loadOf(o).FillAt.Equal(loadOf(t).FillAt) && loadOf(o).TakeAt.Equal(loadOf(t).TakeAt)
		if sameBatch || sameLoad {
			return true
		}
	}
	return false
}

func loadOf(t models.Task) models.IceLoad {
	if t.Quota == nil || len(t.Quota.Loads) == 0 {
		return models.IceLoad{}
	}
	return t.Quota.Loads[0]
}
