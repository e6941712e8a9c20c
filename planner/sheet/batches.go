package sheet

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// numberedBatch is a batch with its sheet: the date of its brewing, and its number among the batches of its brewer and beverage on
// that date.
type numberedBatch struct {
	*models.BatchTask
	date models.Date
	n    int
}

// batches adds the tasks of each batch, from brewing to throwing away what is left.
func (w *sheetWriter) batches() {
	list := w.numberBatches()
	for _, b := range list {
		w.brew(b)
		w.chill(b)
		w.strain(b)
	}
	w.discards(list)
}

func (w *sheetWriter) numberBatches() []numberedBatch {
	groups := map[taskGroup][]numberedBatch{}
	var order []taskGroup
	sorted := slices.Clone(w.plan.Batches)
	slices.SortStableFunc(sorted, func(a, b models.BatchTask) int {
		return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Brewer, b.Brewer), cmp.Compare(a.Beverage, b.Beverage), cmp.Compare(a.ID, b.ID))
	})
	for i := range sorted {
		b := &sorted[i]
		s := taskGroup{w.dateOf(b.Start), b.Brewer, models.TaskBrew, b.Beverage}
		if groups[s] == nil {
			order = append(order, s)
		}
		groups[s] = append(groups[s], numberedBatch{b, s.date, 0})
	}
	var out []numberedBatch
	for _, s := range order {
		g := groups[s]
		times, known := make([]time.Time, len(g)), make([]int, len(g))
		for i, b := range g {
			times[i] = b.Start
			known[i] = w.numberOf(s, b.ID)
		}
		for i, n := range w.numbers(s, times, known) {
			g[i].n = n
		}
		out = append(out, g...)
	}
	return out
}

// numberOf is the number of the task on the previous sheet that has the id of a kept batch, 0 where there is none.
func (w *sheetWriter) numberOf(s taskGroup, id string) int {
	if t, ok := w.old[id]; !ok || t.Kind != s.kind {
		return 0
	}
	for n := 1; n <= mostNumbered; n++ {
		if w.idIn(s, n) == id {
			return n
		}
	}
	return 0
}

// batchTask is a task of a batch without its texts.
func (w *sheetWriter) batchTask(b numberedBatch, kind string, at time.Time) models.Task {
	return models.Task{ID: w.batchID(b, kind), At: at, Station: b.Brewer, Kind: kind, State: models.Due, Beverage: b.Beverage, Batch: w.withTaskID(b)}
}

func (w *sheetWriter) batchID(b numberedBatch, kind string) string {
	return w.idIn(taskGroup{b.date, b.Brewer, kind, b.Beverage}, b.n)
}

// withTaskID is the batch with the id of its brew task, which stays when a plan numbers its batches differently.
func (w *sheetWriter) withTaskID(b numberedBatch) *models.BatchTask {
	batch := *b.BatchTask
	batch.ID = w.batchID(b, models.TaskBrew)
	return &batch
}

func (w *sheetWriter) brew(b numberedBatch) {
	t := w.batchTask(b, models.TaskBrew, b.Start)
	if b.State == models.Started || b.State == models.Made {
		t.State = b.State
	}
	if w.beverage(b.Beverage).Method == models.Steeped {
		w.caution(&t, models.CautionSteeping)
	} else {
		w.caution(&t, models.CautionScald)
	}
	t.Lots = b.Lots
	t.Say = w.sentence(&t)
	switch {
	case b.Serves == "":
		t.Why = w.Say("sheet.makes", "mass", w.ExactMass(b.BeverageG), "from", w.Moment(b.Ready, b.Start), "to", w.Moment(b.UseBy, b.Start))
	case t.State == models.Due:
		t.Why = w.Say("sheet.serves", "whom", b.Serves)
		if words := OtherwiseText(b.Otherwise, w.req.Site); words != "" {
			t.Why += " " + words
		}
	default:
		t.Why = b.Serves
	}
	w.put(b.date, t)
}

// chill adds the task between the brewer and the cold store. Cold brew that takes no ice needs none.
func (w *sheetWriter) chill(b numberedBatch) {
	if w.beverage(b.Beverage).Method == models.Steeped && b.IceG < 0.5 && b.CoolToBeforeIceC == nil {
		return
	}
	t := w.batchTask(b, models.TaskChill, w.chillAt(b))
	if b.State == models.Made {
		t.State = models.Made
	}
	codes := []models.Caution{models.CautionScald}
	if b.CoolToBeforeIceC != nil && b.BathIceG >= 0.5 {
		codes = append(codes, models.CautionBathIce)
	}
	if b.IceG >= 0.5 {
		codes = append(codes, models.CautionGlass)
	}
	w.caution(&t, append(codes, models.CautionCooling)...)
	t.Say = w.sentence(&t)
	t.Why = w.chillWhy(b.BatchTask)
	w.put(w.dateOf(t.At), t)
}

func (w *sheetWriter) chillWhy(b *models.BatchTask) string {
	if b.IceG < 0.5 {
		return w.Say("sheet.why_held", "out", w.Temp(b.BrewerOutTempC), "final", w.Temp(b.FinalTempC), "tds", say.Number(b.ExpectedTDSPct, 2))
	}
	from := b.BrewerOutTempC
	if b.CoolToBeforeIceC != nil {
		from = *b.CoolToBeforeIceC
	}
	return w.Say("sheet.why_balance", "ice", w.ExactMass(b.IceG), "ice_temp", w.Temp(b.IceTempC), "brew", w.ExactMass(b.BeverageG-b.IceG),
		"from", w.Temp(from), "final", w.Temp(b.FinalTempC), "tds", say.Number(b.ExpectedTDSPct, 2))
}

// chillAt is when chilling begins: when the brewer is done; where ice is all the chilling, when it is stirred in.
func (w *sheetWriter) chillAt(b numberedBatch) time.Time {
	done := b.Start
	for _, br := range w.req.Brewers {
		if br.Code == b.Brewer {
			done = b.Start.Add(time.Duration(math.Round(br.BusyMin)) * time.Minute)
		}
	}
	if !b.StrainAt.IsZero() {
		done = b.StrainAt
	}
	if b.CoolToBeforeIceC == nil && !b.IceAt.IsZero() {
		done = b.IceAt
	}
	for _, latest := range []time.Time{b.IceAt, b.Ready} {
		if !latest.IsZero() && done.After(latest) {
			done = latest
		}
	}
	return done
}

func (w *sheetWriter) strain(b numberedBatch) {
	if b.StrainAt.IsZero() {
		return
	}
	t := w.batchTask(b, models.TaskStrain, b.StrainAt)
	if b.State == models.Made {
		t.State = models.Made
	}
	w.caution(&t, models.CautionHolding)
	t.Say = w.sentence(&t)
	t.Why = w.Say("sheet.why_strain", "start", w.Moment(b.Start, b.StrainAt), "hours", w.Span(b.StrainAt.Sub(b.Start)))
	w.put(w.dateOf(b.StrainAt), t)
}
