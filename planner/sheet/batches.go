package sheet

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
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
		w.batch(b)
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

// oneGo is the longest break between two steps of a batch that one line of the sheet still covers.
const oneGo = time.Hour

// batch adds the steps of a batch. Steps that one person does in one go share a line: the first has the text of all of them, the others
// are part of it. Its last line wants a mark.
func (w *sheetWriter) batch(b numberedBatch) {
	steps := w.steps(b)
	line := 0 // the first step of the present line
	for i := range steps {
		t := &steps[i]
		switch {
		case i > line && t.At.Sub(steps[i-1].Until) <= oneGo && w.dateOf(t.At) == w.dateOf(steps[line].At):
			t.PartOf = steps[line].ID
			codes := slices.Clone(steps[line].CautionCodes)
			for _, c := range t.CautionCodes {
				if !slices.Contains(codes, c) {
					codes = append(codes, c)
				}
			}
			w.caution(&steps[line], codes...)
		default:
			line = i
		}
	}
	steps[line].Mark = true
	for i := range steps {
		t := &steps[i]
		if t.PartOf == "" {
			t.Say = w.line(steps[i:], b.BatchTask)
		} else {
			t.Say = w.step(t)
		}
		w.put(w.dateOf(t.At), *t)
	}
}

// steps are the steps of a batch in order of time, with everything but their texts.
func (w *sheetWriter) steps(b numberedBatch) []models.Task {
	work := w.req.Site.Work()
	out := []models.Task{w.brew(b, work)}
	last := func() time.Time { return out[len(out)-1].Until }
	steeped := w.beverage(b.Beverage).Method == models.Steeped
	if !b.StrainAt.IsZero() {
		t := w.batchTask(b, models.TaskStrain, b.StrainAt)
		t.Until = b.StrainAt.Add(models.Minutes(work.StrainTakes))
		t.Hands = handsFor(b.BrewWaterG + b.DoseG)
		t.Why = w.Say("sheet.why_strain", "start", w.Moment(b.Start, b.StrainAt), "hours", w.Span(b.StrainAt.Sub(b.Start)))
		w.caution(&t, models.CautionHolding)
		out = append(out, t)
	}
	if !steeped || b.IceG >= 0.5 || b.CoolToBeforeIceC != nil {
		out = append(out, w.chill(b, last(), work))
	}
	t := w.batchTask(b, models.TaskStore, w.storeAt(b, last(), models.Minutes(work.Store)))
	t.Until = t.At.Add(models.Minutes(work.Store))
	t.Hands = handsFor(b.BeverageG)
	t.Why = w.Say("sheet.why_store", "ready", w.Moment(b.Ready, t.At), "use_by", w.useBy(b.BatchTask, t.At))
	if steeped {
		w.caution(&t, models.CautionHolding)
	} else {
		w.caution(&t, models.CautionCooling, models.CautionHolding)
	}
	return append(out, t)
}

// storeAt is when a batch goes into the cold store: when it is cold, in time to be in it once it is ready, but not after people have
// left, and not before after, the end of the step before it.
func (w *sheetWriter) storeAt(b numberedBatch, after time.Time, takes time.Duration) time.Time {
	by := b.Ready
	if !within(w.presence.there, by, by) {
		by, _ = w.presence.last(by, 0)
	}
	at := by.Add(-takes).Truncate(layoutStep)
	if at.Before(after) {
		return after.Add(layoutStep - 1).Truncate(layoutStep)
	}
	return at
}

// batchTask is a task of a batch without its texts and its end.
func (w *sheetWriter) batchTask(b numberedBatch, kind string, at time.Time) models.Task {
	t := models.Task{ID: w.batchID(b, kind), At: at, Hands: 1, Station: b.Brewer, Kind: kind, State: models.Due, Beverage: b.Beverage, Batch: w.withTaskID(b)}
	if b.State == models.Made {
		t.State = models.Made
	}
	return t
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

func (w *sheetWriter) brew(b numberedBatch, work models.WorkMin) models.Task {
	t := w.batchTask(b, models.TaskBrew, b.Start)
	t.Until = b.Start.Add(models.Minutes(work.Brew))
	if br, ok := w.brewer(b.Brewer); ok && br.ByHand && w.beverage(b.Beverage).Method != models.Steeped {
		t.Until = b.Start.Add(models.Minutes(br.BusyMin))
	}
	if b.State == models.Started {
		t.State = models.Started
	}
	if w.beverage(b.Beverage).Method == models.Steeped {
		w.caution(&t, models.CautionSteeping)
	} else {
		w.caution(&t, models.CautionScald)
	}
	t.Lots = b.Lots
	switch {
	case b.Serves == "":
		t.Why = w.Say("sheet.for_use", "from", w.Moment(b.Ready, b.Start), "to", w.useBy(b.BatchTask, b.Start))
	case t.State == models.Due:
		t.Why = w.Say("sheet.serves", "whom", b.Serves)
		if words := OtherwiseText(b.Otherwise, w.req.Site); words != "" {
			t.Why += " " + words
		}
	default:
		t.Why = b.Serves
	}
	return t
}

// chill is the step between the brewer and the cold store. Cold brew that takes no ice needs none.
func (w *sheetWriter) chill(b numberedBatch, after time.Time, work models.WorkMin) models.Task {
	at := w.chillAt(b)
	if at.Before(after) {
		at = after
	}
	t := w.batchTask(b, models.TaskChill, at)
	t.Hands = handsFor(b.BeverageG - b.IceG)
	codes := []models.Caution{models.CautionScald}
	if b.CoolToBeforeIceC != nil && b.BathIceG >= 0.5 {
		codes = append(codes, models.CautionBathIce)
	}
	if b.IceG >= 0.5 {
		codes = append(codes, models.CautionGlass)
	}
	takes := work.Chill(b.CoolToBeforeIceC != nil && w.beverage(b.Beverage).Bath, b.IceG >= 0.5)
	t.Until = t.At.Add(models.Minutes(takes))
	w.caution(&t, append(codes, models.CautionCooling)...)
	t.Why = w.chillWhy(b.BatchTask)
	return t
}

func (w *sheetWriter) chillWhy(b *models.BatchTask) string {
	if b.IceG < 0.5 {
		return w.Say("sheet.why_held", "out", w.Temp(b.BrewerOutTempC), "final", w.Temp(b.FinalTempC), "tds", w.Number(b.ExpectedTDSPct, 2))
	}
	from := b.BrewerOutTempC
	if b.CoolToBeforeIceC != nil {
		from = *b.CoolToBeforeIceC
	}
	return w.Say("sheet.why_balance", "ice", w.ExactMass(b.IceG), "ice_temp", w.Temp(b.IceTempC), "brew", w.ExactMass(b.BeverageG-b.IceG),
		"from", w.Temp(from), "final", w.Temp(b.FinalTempC), "tds", w.Number(b.ExpectedTDSPct, 2))
}

// chillAt is when chilling begins: when the brewer is done; where ice is all the chilling, when it is stirred in.
func (w *sheetWriter) chillAt(b numberedBatch) time.Time {
	done := b.Start
	if br, ok := w.brewer(b.Brewer); ok {
		done = b.Start.Add(time.Duration(math.Round(br.BusyMin)) * time.Minute)
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
