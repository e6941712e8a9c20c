package sheet

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// numberedBatch is a batch with its place on the sheets: the date of its brewing, and its number among those of its brewer and
// beverage on that date.
type numberedBatch struct {
	*models.BatchTask
	date models.Date
	n    int
}

// batches writes what each batch asks for, from the brewing to what has to be thrown away.
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
	groups := map[sameSort][]numberedBatch{}
	var order []sameSort
	sorted := slices.Clone(w.plan.Batches)
	slices.SortStableFunc(sorted, func(a, b models.BatchTask) int {
		return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Brewer, b.Brewer), cmp.Compare(a.Beverage, b.Beverage), cmp.Compare(a.ID, b.ID))
	})
	for i := range sorted {
		b := &sorted[i]
		s := sameSort{w.page(b.Start), b.Brewer, models.TaskBrew, b.Beverage}
		if groups[s] == nil {
			order = append(order, s)
		}
		groups[s] = append(groups[s], numberedBatch{b, s.date, 0})
	}
	var out []numberedBatch
	for _, s := range order {
		g := groups[s]
		times, fixed := make([]time.Time, len(g)), make([]int, len(g))
		for i, b := range g {
			times[i] = b.Start
			fixed[i] = w.numberOf(s, b.ID)
		}
		for i, n := range w.numbers(s, times, fixed) {
			g[i].n = n
		}
		out = append(out, g...)
	}
	return out
}

// numberOf is the number of the old task whose id a kept batch bears, 0 where it bears none.
func (w *sheetWriter) numberOf(s sameSort, id string) int {
	if t, ok := w.old[id]; !ok || t.Kind != s.kind {
		return 0
	}
	for n := 1; n <= mostNumbered; n++ {
		if taskID(w.req.Site.Code, s.date, s.station, s.kind, numbered(s.subject, n)) == id {
			return n
		}
	}
	return 0
}

// batchTask is a task of a batch without its words.
func (w *sheetWriter) batchTask(b numberedBatch, kind string, at time.Time) models.Task {
	return models.Task{
		ID: w.batchID(b, kind),
		At: at, Station: b.Brewer, Kind: kind, State: models.Due, Batch: w.onTask(b),
	}
}

func (w *sheetWriter) batchID(b numberedBatch, kind string) string {
	return taskID(w.req.Site.Code, b.date, b.Brewer, kind, numbered(b.Beverage, b.n))
}

// onTask is the batch as its tasks bear it: all under the id of its brewing, which stays when the plan numbers anew.
func (w *sheetWriter) onTask(b numberedBatch) *models.BatchTask {
	batch := *b.BatchTask
	batch.ID = w.batchID(b, models.TaskBrew)
	return &batch
}

func (w *sheetWriter) recipeOf(code string) models.Beverage {
	for _, b := range w.req.Beverages {
		if b.Code == code {
			return b
		}
	}
	return models.Beverage{Code: code, Method: models.Flash}
}

func (w *sheetWriter) brew(b numberedBatch) {
	t := w.batchTask(b, models.TaskBrew, b.Start)
	if b.State == models.Started || b.State == models.Made {
		t.State = b.State
	}
	r := w.recipeOf(b.Beverage)
	key := "sheet.brew"
	care := say.CautionScald
	if r.Method == models.Steeped {
		key, care = "sheet.wet", say.CautionSteeping
		if !b.StrainAt.IsZero() {
			key = "sheet.wet_strain"
		}
	}
	t.Caution = w.Caution(care)
	lot := strings.ReplaceAll(b.CoffeeLot, "+", w.Say("sheet.lots"))
	if lot != "" {
		key += "_lot"
	}
	t.Say = w.Say(key, "beverage", w.name(b.Beverage), "water", w.WeighedGrams(b.BrewWaterG), "dose", w.WeighedGrams(b.DoseG), "lot", lot, "brewer", b.Brewer,
		"temp", w.SheetTemp(r.SteepTempC), "strain", w.Moment(b.StrainAt, b.Start))
	switch {
	case b.Serves == "":
		t.Why = w.Say("sheet.makes", "mass", w.WeighedGrams(b.BeverageG), "from", w.Moment(b.Ready, b.Start), "to", w.Moment(b.UseBy, b.Start))
	case t.State == models.Due:
		t.Why = w.Say("sheet.serves", "whom", strings.TrimSuffix(b.Serves, "."))
		if words := OtherwiseWords(b.Otherwise, w.req.Site); words != "" {
			t.Why += " " + words
		}
	default:
		t.Why = b.Serves
	}
	w.put(b.date, t)
}

// chill is the step between the brewer and the cold store: cool from outside, stir in ice, reach the target.
func (w *sheetWriter) chill(b numberedBatch) {
	r := w.recipeOf(b.Beverage)
	if r.Method == models.Steeped && b.IceG < 0.5 && b.CoolToBeforeIceC == nil {
		return
	}
	t := w.batchTask(b, models.TaskChill, w.chillAt(b))
	if b.State == models.Made {
		t.State = models.Made
	}
	var steps, care []string
	care = append(care, say.CautionScald)
	if b.CoolToBeforeIceC != nil {
		how := "sheet.cool"
		if b.BathIceG >= 0.5 {
			how = "sheet.cool_bath_ice"
			care = append(care, say.CautionBathIce)
		} else if r.Bath {
			how = "sheet.cool_bath"
		}
		to := *b.CoolToBeforeIceC
		if b.IceG < 0.5 {
			to = b.FinalTempC
		}
		steps = append(steps, w.Say(how, "temp", w.SheetTemp(to), "ice", w.WeighedGrams(b.BathIceG)))
	}
	if b.IceG >= 0.5 {
		steps = append(steps, w.Say("sheet.stir", "ice", w.WeighedGrams(b.IceG)))
		care = append(care, say.CautionGlass)
	}
	if b.IceG >= 0.5 || b.CoolToBeforeIceC == nil {
		steps = append(steps, w.Say("sheet.reach", "temp", w.SheetTemp(b.FinalTempC)))
	}
	care = append(care, say.CautionCooling)
	t.Say = w.Say("sheet.chill", "beverage", w.name(b.Beverage), "steps", strings.Join(steps, ", "), "ready", w.Moment(b.Ready, t.At))
	t.Why = w.chillWhy(b.BatchTask)
	t.Caution = strings.Join(w.Cautions(care), " ")
	w.put(w.page(t.At), t)
}

func (w *sheetWriter) chillWhy(b *models.BatchTask) string {
	if b.IceG < 0.5 {
		return w.Say("sheet.why_held", "out", w.SheetTemp(b.BrewerOutTempC), "final", w.SheetTemp(b.FinalTempC), "tds", say.Number(b.ExpectedTDSPct, 2))
	}
	from := b.BrewerOutTempC
	if b.CoolToBeforeIceC != nil {
		from = *b.CoolToBeforeIceC
	}
	return w.Say("sheet.why_balance", "ice", w.WeighedGrams(b.IceG), "ice_temp", w.SheetTemp(b.IceTempC), "brew", w.WeighedGrams(b.BeverageG-b.IceG),
		"from", w.SheetTemp(from), "final", w.SheetTemp(b.FinalTempC), "tds", say.Number(b.ExpectedTDSPct, 2))
}

// chillAt is when the chilling begins: as the brewer is done, or for ice alone when the ice is stirred in.
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
	t.Say = w.Say("sheet.strain", "beverage", w.name(b.Beverage), "brewer", b.Brewer, "mass", w.WeighedGrams(b.BeverageG),
		"ready", w.Moment(b.Ready, b.StrainAt), "use_by", w.Moment(b.UseBy, b.StrainAt))
	t.Why = w.Say("sheet.why_strain", "start", w.Moment(b.Start, b.StrainAt), "hours", say.SheetHours(b.StrainAt.Sub(b.Start).Hours()))
	t.Caution = w.Caution(say.CautionHolding)
	w.put(w.page(b.StrainAt), t)
}
