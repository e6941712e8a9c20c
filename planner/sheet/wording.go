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

// wording puts tasks into words for the people of a site.
type wording struct {
	say.Voice
	setup *models.Setup
}

func newWording(setup *models.Setup) wording { return wording{say.For(setup.Site), setup} }

// beverage is a beverage by its code; a bare flash recipe where the set-up no longer has it.
func (w wording) beverage(code string) models.Beverage {
	if i := slices.IndexFunc(w.setup.Beverages, func(b models.Beverage) bool { return b.Code == code }); i >= 0 {
		return w.setup.Beverages[i]
	}
	return models.Beverage{Code: code, Method: models.Flash}
}

// name is the name of a beverage, its code where it has none.
func (w wording) name(code string) string { return cmp.Or(w.beverage(code).Name, code) }

func (w wording) brewer(code string) (models.Brewer, bool) {
	if i := slices.IndexFunc(w.setup.Brewers, func(b models.Brewer) bool { return b.Code == code }); i >= 0 {
		return w.setup.Brewers[i], true
	}
	return models.Brewer{}, false
}

// Act says what a task asks for without the name of its beverage, for a page that has the name as a heading: "465 g coffee, 5 250 g
// water". Of a task without a beverage, and of one whose sheet was published by a version that did not store the facts, it is the whole
// text of the task.
func Act(t models.Task, setup models.Setup) string {
	w := newWording(&setup)
	switch {
	case t.Kind == models.TaskDiscard && t.Discard != nil:
		return w.discardAct(&t)
	case t.Batch == nil:
		return t.Say
	case t.Kind == models.TaskBrew, t.Kind == models.TaskChill, t.Kind == models.TaskStrain, t.Kind == models.TaskStore:
		return w.stepAct(&t)
	}
	return t.Say
}

// sentence is the text of a task with a beverage: its name and what to do.
func (w wording) sentence(t *models.Task) string {
	return w.Say("sheet.task", "beverage", w.name(t.Beverage), "act", w.discardAct(t))
}

// line is the text of a line of the sheet: what its steps ask for, the first of them and those that are part of it, with the result.
func (w wording) line(steps []models.Task, b *models.BatchTask) string {
	first := &steps[0]
	var out []string
	stored := false // with the other steps
	for i := range steps {
		switch t := &steps[i]; {
		case i > 0 && t.PartOf != first.ID:
		case i > 0 && t.Kind == models.TaskStore:
			stored = true
		case i == 0:
			out = append(out, w.step(t))
		default:
			out = append(out, w.stepAct(t)+".")
		}
	}
	if stored {
		key := "sheet.use_by"
		if _, named := w.size(b); named && first.Kind == models.TaskBrew {
			key = "sheet.makes"
		}
		out = append(out, w.Say(key, "mass", w.GlanceMass(b.BeverageG), "use_by", w.useBy(b, first.At)))
	}
	if first.Kind == models.TaskBrew && !b.LookAt.IsZero() {
		out = append(out, w.Say("sheet.if_look", "at", w.Moment(b.LookAt, first.At)))
	}
	return strings.Join(out, " ")
}

// step is the text of a step of a batch.
func (w wording) step(t *models.Task) string {
	b := t.Batch
	beverage := w.name(b.Beverage)
	if t.Kind == models.TaskBrew {
		beverage = w.whole(b)
	}
	key := "sheet.step."
	if t.Kind == models.TaskStrain || t.Kind == models.TaskStore {
		return w.Say(key+t.Kind, "brewer", b.Brewer, "beverage", beverage, "mass", w.GlanceMass(b.BeverageG), "two", w.two(t), "use_by", w.useBy(b, t.At))
	}
	return w.Say("sheet.step", "brewer", b.Brewer, "beverage", beverage, "act", w.stepAct(t))
}

// whole names a batch with its size, and with the day that it is for where that is not the day of its brewing.
func (w wording) whole(b *models.BatchTask) string {
	key := "sheet.sized"
	loc := w.setup.Site.Location()
	if models.DateOf(b.Ready, loc) != models.DateOf(b.Start, loc) {
		key = "sheet.sized_for"
	}
	size, _ := w.size(b)
	return w.Say(key, "beverage", w.name(b.Beverage), "size", size, "day", w.Weekday(b.Ready))
}

// How close to a full or half batch one is called so.
const (
	fullShare = 0.95
	halfShare = 0.025 // either way
)

// size says how large a batch is: full or half, which is named, or else its mass.
func (w wording) size(b *models.BatchTask) (size string, named bool) {
	br, _ := w.brewer(b.Brewer)
	full := br.MaxBeverageG
	if len(br.SizesG) > 0 {
		full = slices.Max(br.SizesG)
	}
	switch share := b.BeverageG / full; {
	case full <= 0:
	case share >= fullShare:
		return w.Say("sheet.full"), true
	case math.Abs(share-0.5) <= halfShare:
		return w.Say("sheet.half"), true
	}
	return w.GlanceMass(b.BeverageG), false
}

// weighed is a mass to weigh out, g: exact, and from 10 kg on in kilograms where nothing is lost.
func (w wording) weighed(g float64) string {
	if g >= 10000 && math.Abs(g-100*math.Round(g/100)) < 0.5 {
		return w.GlanceMass(g)
	}
	return w.ExactMass(g)
}

// stepAct says what a step of a batch asks for, without its beverage.
func (w wording) stepAct(t *models.Task) string {
	b := t.Batch
	switch t.Kind {
	case models.TaskBrew:
		return w.brewAct(b)
	case models.TaskChill:
		return w.chillAct(t)
	case models.TaskStrain:
		return w.Say("sheet.strain", "mass", w.GlanceMass(b.BeverageG), "two", w.two(t))
	}
	return w.Say("sheet.store", "mass", w.GlanceMass(b.BeverageG), "two", w.two(t), "use_by", w.useBy(b, t.At))
}

// two says that a task takes two people, "" if one is enough.
func (w wording) two(t *models.Task) string {
	if t.Hands > 1 {
		return w.Say("sheet.and_two")
	}
	return ""
}

// useBy is the time by which a batch is used, to 5 minutes, seen from another time.
func (w wording) useBy(b *models.BatchTask, beside time.Time) string {
	return w.Moment(b.UseBy.Truncate(layoutStep), beside)
}

// fridgeC is the highest temperature of a refrigerator, °C.
const fridgeC = 8

func (w wording) brewAct(b *models.BatchTask) string {
	key := "sheet.brew"
	if len(b.Lots) > 0 {
		key += "_lot"
	}
	act := w.Say(key, "water", w.weighed(b.BrewWaterG), "dose", w.weighed(b.DoseG), "lot", w.LotCodes(b.Lots))
	if b.StrainAt.IsZero() {
		return act
	}
	key = "sheet.steep"
	r := w.beverage(b.Beverage)
	if r.SteepTempC <= fridgeC {
		key = "sheet.fridge"
	}
	return act + ". " + w.Say(key, "temp", w.Temp(r.SteepTempC), "strain", w.Moment(b.StrainAt, b.Start))
}

// chillAct says the steps from the brewer to the cold store: cool from outside, stir in ice.
func (w wording) chillAct(t *models.Task) string {
	b := t.Batch
	var steps []string
	if b.CoolToBeforeIceC != nil {
		to := *b.CoolToBeforeIceC
		if b.IceG < 0.5 {
			to = b.FinalTempC
		}
		switch {
		case b.BathIceG >= 0.5:
			steps = append(steps, w.bathStep(b, to))
		case w.beverage(b.Beverage).Bath:
			steps = append(steps, w.Say("sheet.cool_bath", "temp", w.Temp(to)))
		default:
			steps = append(steps, w.Say("sheet.cool", "temp", w.Temp(to)))
		}
		if b.IceG < 0.5 && b.CoolingMin != nil && *b.CoolingMin >= 5 {
			steps = append(steps, w.Say("sheet.about", "span", w.Minutes(5*math.Ceil(*b.CoolingMin/5))))
		}
	}
	if b.IceG >= 0.5 {
		steps = append(steps, w.Say("sheet.stir", "ice", w.weighed(b.IceG)))
	}
	if t.Hands > 1 {
		steps = append(steps, w.Say("sheet.two"))
	}
	if len(steps) == 0 {
		steps = append(steps, w.Say("sheet.reach", "temp", w.WholeTemp(b.FinalTempC)))
	}
	return say.Capital(strings.Join(steps, w.Say("said.comma")))
}

func (w wording) discardAct(t *models.Task) string {
	which := w.Say("sheet.was_there")
	if t.Batch != nil {
		which = w.Say("sheet.batch_of", "start", w.Moment(t.Batch.Start, t.At), "brewer", t.Batch.Brewer)
	}
	return w.Say("sheet.discard", "what", which, "mass", w.ExactMass(t.Discard.G))
}

// caution gives a task its cautions: their codes, and their texts in one.
func (w wording) caution(t *models.Task, codes ...models.Caution) {
	t.CautionCode, t.CautionCodes = codes[0], codes
	t.Caution = strings.Join(w.Cautions(codes), " ")
}
