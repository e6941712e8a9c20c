package sheet

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// together merges tasks that one person does in one go: beans from one place are got out once for hours ahead.
func (w *sheetWriter) together(tasks []models.Task) []models.Task {
	var out []models.Task
	for _, t := range tasks {
		i := slices.IndexFunc(out, func(o models.Task) bool { return w.oneTrip(&o, &t) })
		if i < 0 || t.State != models.Due {
			out = append(out, t)
			continue
		}
		o := &out[i]
		o.Pulls = append(slices.Clone(o.Pulls), t.Pulls...)
		if placeOf(o) == "freezer" {
			o.Say = w.Say("sheet.get_out_frozen", "beans", w.beans(o.Pulls), "until", w.Moment(lastUse(o.Pulls), o.At))
			o.Why = w.Say("sheet.why_get_out_frozen")
		} else {
			o.Say = w.Say("sheet.get_out", "beans", w.beans(o.Pulls))
			o.Why = w.Say("sheet.why_get_out")
		}
	}
	return out
}

// lastUse is when all of several pulls may be used.
func lastUse(pulls []models.BeanPull) time.Time {
	last := pulls[0].UseFrom
	for _, p := range pulls[1:] {
		if p.UseFrom.After(last) {
			last = p.UseFrom
		}
	}
	return last
}

// beansAhead is how long ahead beans are got out.
const beansAhead = 3 * time.Hour

// oneTrip reports whether the beans of a later pull can be got with those of an earlier one.
func (w *sheetWriter) oneTrip(first, later *models.Task) bool {
	ahead := later.At.Sub(first.At)
	return first.Kind == models.TaskPull && later.Kind == models.TaskPull && first.State == models.Due &&
		len(first.Pulls) > 0 && len(later.Pulls) > 0 && placeOf(first) == placeOf(later) && ahead >= 0 && ahead <= beansAhead &&
		w.dateOf(first.At) == w.dateOf(later.At)
}

// placeOf is where the beans of a pull are kept: the freezer or the shelf.
func placeOf(t *models.Task) string {
	if t.Pulls[0].FromPlace == "freezer" {
		return "freezer"
	}
	return "shelf"
}

// beans lists beans to get out: "Terrace T-31 2 210 g (600 g of it open), Lantern L-09 381 g".
func (w *sheetWriter) beans(pulls []models.BeanPull) string {
	var list []string
	for _, p := range pulls {
		key := "sheet.beans"
		switch {
		case p.G-p.OpenG < 1:
			key = "sheet.beans_open"
		case p.OpenG >= 1:
			key = "sheet.beans_open_first"
		}
		list = append(list, w.Say(key, "coffee", p.Coffee, "lot", p.Lot, "mass", w.ExactMass(p.G), "open", w.ExactMass(p.OpenG)))
	}
	return strings.Join(list, w.Say("said.semicolon"))
}
