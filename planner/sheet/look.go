package sheet

import (
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// lookTakes is how long it takes to see what is left of a beverage.
const lookTakes = 2 * time.Minute

// looks adds the looks at what is left of a beverage, by which a batch is brewed, made smaller or left out.
func (w *sheetWriter) looks() {
	list := w.numberBatches()
	for i := range w.plan.Choices {
		c := w.plan.Choices[i]
		c.Options = slices.Clone(c.Options)
		for k := range c.Options {
			if b := c.Options[k].Batch; b != nil {
				at := slices.IndexFunc(list, func(n numberedBatch) bool { return n.ID == b.ID })
				if at < 0 {
					continue
				}
				same := list[at]
				same.BatchTask = b
				c.Options[k].Batch = w.withTaskID(same)
			}
		}
		date := w.dateOf(c.LookAt)
		t := models.Task{ID: taskID(w.req.Site.Code, date, stationStore, models.TaskLook, c.Beverage), At: c.LookAt, Until: c.LookAt.Add(lookTakes), Hands: 1,
			Mark: true, Station: stationStore, Kind: models.TaskLook, State: models.Due, Beverage: c.Beverage, Choice: &c}
		t.Say = w.lookText(&c)
		t.Why = w.Say("sheet.why_look")
		w.put(date, t)
	}
}

// lookText asks what is left and says what to do for each answer.
func (w wording) lookText(c *models.Choice) string {
	var options []string
	for k := range c.Options {
		options = append(options, w.Say("sheet.look_option", "left", w.leftRange(c, k), "act", w.optionText(c.Options[k].Batch)))
	}
	return w.Say("sheet.look", "beverage", w.name(c.Beverage), "options", strings.Join(options, " "), "default", w.optionName(c.Options[c.Default].Batch))
}

// LookText asks what is left of a choice's beverage and says what to do for each answer.
func LookText(c *models.Choice, setup models.Setup) string {
	w := newWording(&setup)
	return w.lookText(c)
}

// LookOption says for which amounts left an option of a choice is taken, and in two words what is brewed then.
func LookOption(c *models.Choice, k int, setup models.Setup) (left, act string) {
	w := newWording(&setup)
	return w.leftRange(c, k), w.optionName(c.Options[k].Batch)
}

// leftRange says for which amounts left an option is taken: in whole jugs where the site has named one, else by weight.
func (w wording) leftRange(c *models.Choice, k int) string {
	var from, to *float64
	if k > 0 {
		from = c.Options[k-1].BelowG
	}
	to = c.Options[k].BelowG
	jug := w.setup.Site.JugG
	if jug <= 0 {
		switch {
		case from == nil:
			return w.Say("sheet.left_under", "to", w.GlanceMass(*to))
		case to == nil:
			return w.Say("sheet.left_over", "from", w.GlanceMass(*from))
		}
		return w.Say("sheet.left_between", "from", w.GlanceMass(*from), "to", w.GlanceMass(*to))
	}
	first, last := 0, 0
	if from != nil {
		first = jugs(*from, jug) + 1
	}
	if to != nil {
		last = jugs(*to, jug)
	}
	switch {
	case to == nil:
		return w.Say("sheet.jugs_or_more", "n", first)
	case last == 0:
		return w.Say("sheet.no_jug")
	case first == last:
		return w.Say("sheet.jugs", "n", first)
	case from == nil:
		return w.Say("sheet.jugs_or_fewer", "n", last)
	}
	return w.Say("sheet.jugs_from_to", "from", first, "n", last)
}

// jugs is the most jugs, counted to the nearest whole one, that are below an amount.
func jugs(belowG, jugG float64) int { return max(0, int(math.Ceil(belowG/jugG-0.5-1e-9))) }

// optionText says what to brew, with its weights.
func (w wording) optionText(b *models.BatchTask) string {
	if b == nil {
		return w.Say("sheet.brew_none")
	}
	key := "sheet.brew_sized"
	if b.IceG < 0.5 {
		key = "sheet.brew_sized_no_ice"
	}
	size, _ := w.size(b)
	return w.Say(key, "size", size, "dose", w.weighed(b.DoseG), "water", w.weighed(b.BrewWaterG), "ice", w.weighed(b.IceG))
}

// optionName says what to brew in two words.
func (w wording) optionName(b *models.BatchTask) string {
	if b == nil {
		return w.Say("sheet.brew_none")
	}
	size, _ := w.size(b)
	return w.Say("sheet.brew_size", "size", size)
}
