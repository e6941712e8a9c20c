package web

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// markedLine is a line of today that somebody has marked, with what was written down, to correct it.
type markedLine struct {
	ID, State, Short string
	At               time.Time
	Clock            string // its time as the site's clock shows it, "14:05"
	Batch            bool   // it has a weight and a strength
	Look             bool   // it says what was left, in Mass
	Mass, TDS        string // as typed: in the unit of the page, and %
	G                string // the weight that was marked, g; empty: none was
}

// listMarked lists the marked lines of today's sheets, the last one first.
func (v *kitchenView) listMarked(sheets []models.PrepSheet, marks []models.TaskMark, setup models.Setup) {
	today, loc := setup.Site.ServiceDayOf(v.Now), setup.Site.Location()
	current := models.CurrentMarks(marks)
	var dates []string
	for _, s := range sheets {
		if slices.ContainsFunc(s.Tasks, func(t models.Task) bool { return setup.Site.ServiceDayOf(t.At) == today }) {
			dates = append(dates, string(s.Date))
		}
		for _, t := range s.Lines() {
			m, ok := current[t.ID]
			if !ok || setup.Site.ServiceDayOf(m.At) != today {
				continue
			}
			line := markedLine{ID: t.ID, State: m.State, Short: shortTask(t, setup, v.voice), At: m.At, Clock: m.At.In(loc).Format("15:04"),
				Batch: t.Batch != nil && t.Kind != models.TaskDiscard}
			if line.Batch {
				g := t.Batch.BeverageG
				if m.BeverageG != nil {
					g = *m.BeverageG
					line.G = strconv.FormatFloat(g, 'f', -1, 64)
				}
				line.Mass = v.voice.typed(g / v.MassPer)
			}
			if t.Kind == models.TaskLook && m.LeftG != nil {
				line.Look, line.Mass = true, v.voice.typed(*m.LeftG/v.MassPer)
			}
			if m.TDSPct != nil {
				line.TDS = v.voice.typed(*m.TDSPct)
			}
			v.Marked = append(v.Marked, line)
		}
	}
	slices.SortStableFunc(v.Marked, func(a, b markedLine) int { return b.At.Compare(a.At) })
	v.Dates = strings.Join(dates, " ")
}

// typed writes a number as somebody would type it, to a hundredth.
func (v voice) typed(x float64) string {
	return v.Typed(strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64))
}
