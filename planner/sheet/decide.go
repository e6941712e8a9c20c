package sheet

import (
	"slices"
	"time"

	"hotday/models"
)

// Decision is the outcome of a look at what is left of a beverage.
type Decision struct {
	Sheet models.PrepSheet // with the batch as decided
	Brew  string           // ID of the task of brewing it; empty: it has begun, or is no longer on the sheet
	Skip  bool             // it is not brewed
	Why   string           // of skipping it: what was left, and when
}

// Decide applies an answer to a look, given as what is left of the beverage, g, to the sheet: the batch gets the size of its option. leftG
// nil withdraws the answer: the default is brewed. A batch that has begun stays as it is. at is when it was answered.
func Decide(s models.PrepSheet, setup models.Setup, look models.Task, leftG *float64, at time.Time) Decision {
	w := newWording(&setup)
	c := look.Choice
	option := c.Default
	if leftG != nil {
		option = c.Option(*leftG)
	}
	b := c.Options[option].Batch
	id := ""
	for _, o := range c.Options {
		if o.Batch != nil {
			id = o.Batch.ID
		}
	}
	s.Tasks = slices.Clone(s.Tasks)
	var steps []int
	for i := range s.Tasks {
		t := &s.Tasks[i]
		switch t.Kind {
		case models.TaskBrew, models.TaskChill, models.TaskStrain, models.TaskStore:
			if t.Batch == nil || t.Batch.ID != id {
				continue
			}
			if begun(*t) {
				return Decision{Sheet: s}
			}
			steps = append(steps, i)
		}
	}
	if len(steps) == 0 || s.Tasks[steps[0]].Kind != models.TaskBrew {
		return Decision{Sheet: s}
	}
	out := Decision{Brew: s.Tasks[steps[0]].ID, Skip: b == nil}
	if b != nil {
		w.resize(s.Tasks, steps, b, leftG != nil)
	}
	if leftG == nil {
		s.Changes = []string{w.Say("sheet.undecided", "at", w.Clock(c.LookAt), "beverage", w.name(c.Beverage), "act", w.optionText(b))}
	} else {
		left := w.amountLeft(*leftG)
		s.Changes = []string{w.Say("sheet.decided", "left", left, "beverage", w.name(c.Beverage), "act", w.optionText(b))}
		out.Why = w.Say("sheet.decided_none", "left", left, "at", w.Clock(at.In(setup.Site.Location())))
	}
	s.PublishedAt = at
	out.Sheet = s
	return out
}

// resize gives the steps of a batch, by their places, another size. Decided, it no longer waits for a look.
func (w wording) resize(tasks []models.Task, steps []int, size *models.BatchTask, decided bool) {
	was := tasks[steps[0]].Batch
	by := was.Start.Sub(size.Start) // a delay
	b := *size
	b.Start, b.Ready, b.UseBy = was.Start, b.Ready.Add(by), b.UseBy.Add(by)
	if !b.IceAt.IsZero() {
		b.IceAt = b.IceAt.Add(by)
	}
	if !b.StrainAt.IsZero() {
		b.StrainAt = b.StrainAt.Add(by)
	}
	if decided {
		b.Choice, b.LookAt = "", time.Time{}
	}
	var list []models.Task
	for _, i := range steps {
		t := &tasks[i]
		t.Batch = &b
		if t.Kind == models.TaskBrew {
			t.Lots = b.Lots
		}
		list = append(list, *t)
	}
	for k, i := range steps {
		if t := &tasks[i]; t.PartOf == "" {
			t.Say = w.line(list[k:], &b)
		} else {
			t.Say = w.step(t)
		}
	}
}

// amountLeft is what is left of a beverage: in jugs where the site has named one, else by weight.
func (w wording) amountLeft(g float64) string {
	if jug := w.setup.Site.JugG; jug > 0 {
		return w.Say("sheet.jugs", "n", int(g/jug+0.5))
	}
	return w.GlanceMass(g)
}
