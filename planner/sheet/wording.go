package sheet

import (
	"cmp"
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

// Act says what a task asks for without the name of its beverage, for a page that has the name as a heading: "pour 4 670 g over 400 g
// dose in left". Of a task without a beverage, and of one whose sheet was published by a version that did not store what is said, it
// is the whole text of the task.
func Act(t models.Task, setup models.Setup) string { return newWording(&setup).act(&t) }

func (w wording) act(t *models.Task) string {
	switch {
	case t.Kind == models.TaskDiscard && t.Discard != nil:
		return w.discardAct(t)
	case t.Kind == models.TaskBrew && t.Batch != nil:
		return w.brewAct(t.Batch)
	case t.Kind == models.TaskChill && t.Batch != nil:
		return w.chillAct(t.Batch, t.At)
	case t.Kind == models.TaskStrain && t.Batch != nil:
		return w.strainAct(t.Batch)
	}
	return t.Say
}

// sentence is the text of a task with a beverage: its name and what to do.
func (w wording) sentence(t *models.Task) string {
	return w.Say("sheet.task", "beverage", w.name(t.Beverage), "act", w.act(t))
}

func (w wording) brewAct(b *models.BatchTask) string {
	r := w.beverage(b.Beverage)
	key := "sheet.brew"
	if r.Method == models.Steeped {
		key = "sheet.wet"
		if !b.StrainAt.IsZero() {
			key = "sheet.wet_strain"
		}
	}
	if len(b.Lots) > 0 {
		key += "_lot"
	}
	return w.Say(key, "water", w.ExactMass(b.BrewWaterG), "dose", w.ExactMass(b.DoseG), "lot", w.LotCodes(b.Lots), "brewer", b.Brewer,
		"temp", w.Temp(r.SteepTempC), "strain", w.Moment(b.StrainAt, b.Start))
}

// chillAct says the steps from the brewer to the cold store: cool from outside, stir in ice, reach the target.
func (w wording) chillAct(b *models.BatchTask, at time.Time) string {
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
	}
	if b.IceG >= 0.5 {
		steps = append(steps, w.Say("sheet.stir", "ice", w.ExactMass(b.IceG)))
	}
	if b.IceG >= 0.5 || b.CoolToBeforeIceC == nil {
		steps = append(steps, w.Say("sheet.reach", "temp", w.Temp(b.FinalTempC)))
	}
	return w.Say("sheet.chill", "steps", strings.Join(steps, w.Say("said.comma")), "ready", w.Moment(b.Ready, at))
}

func (w wording) strainAct(b *models.BatchTask) string {
	return w.Say("sheet.strain", "brewer", b.Brewer, "mass", w.ExactMass(b.BeverageG), "ready", w.Moment(b.Ready, b.StrainAt), "use_by", w.Moment(b.UseBy, b.StrainAt))
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
