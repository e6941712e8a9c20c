package sheet

import (
	"slices"
	"time"

	"hotday/models"
)

// Delayed returns a sheet whose tasks that had not begun when the kitchen said that it is behind are that much later. Batches under way
// are cooled and stored when they were to be, what is past its use-by time is thrown away then, and nothing is put off until people have
// left: its changes say what does not move. Tomorrow's strain of a batch begun later stays at its time.
func Delayed(s models.PrepSheet, setup models.Setup, d models.Delay) models.PrepSheet {
	w := &delayWriter{wording: newWording(&setup), by: models.Minutes(d.Minutes), at: d.At, today: setup.Site.DayEnd(setup.Site.ServiceDayOf(d.At))}
	for i := -1; i <= 1; i++ {
		w.present = append(w.present, setup.Site.StaffSpans(s.Date.AddDays(i))...)
	}
	w.present = models.Merged(w.present)
	s.Tasks = slices.Clone(s.Tasks)
	moved := 0
	var stay []string
	for _, group := range w.groups(s.Tasks) {
		by := w.shift(s.Tasks, group)
		if by > 0 {
			moved++
			w.move(s.Tasks, group, by)
		}
		if by < w.by {
			t := &s.Tasks[group[0]]
			stay = append(stay, w.Say("sheet.delay_less", "at", w.Clock(t.At), "what", t.Say, "end", w.Clock(w.leave(t.At))))
		}
	}
	s.Changes = []string{w.Say("sheet.delay", "span", w.Span(w.by), "n", moved)}
	for i := range s.Tasks {
		if t := &s.Tasks[i]; t.State == models.Due && t.Kind == models.TaskDiscard && t.At.After(d.At) && t.At.Before(d.At.Add(delayAhead)) {
			stay = append(stay, w.Say("sheet.delay_discard", "at", w.Clock(t.At), "what", t.Say))
		}
	}
	s.Changes = append(s.Changes, stay...)
	s.Delays = append(slices.Clone(s.Delays), d)
	s.PublishedAt = d.At
	slices.SortStableFunc(s.Tasks, inOrder)
	return s
}

// Moved is the number of lines of a sheet that are at another time on a later version of it.
func Moved(before, after models.PrepSheet) int {
	at := map[string]int64{}
	for _, t := range before.Tasks {
		at[t.ID] = t.At.UnixNano()
	}
	n := 0
	for _, t := range after.Lines() {
		if was, ok := at[t.ID]; ok && was != t.At.UnixNano() {
			n++
		}
	}
	return n
}

// delayAhead is how far ahead a sheet says what must be thrown away in spite of a delay.
const delayAhead = 4 * time.Hour

// ends is when a task is over; sheets of earlier versions do not say.
func ends(t *models.Task) time.Time {
	if t.Until.IsZero() {
		return t.At.Add(10 * time.Minute)
	}
	return t.Until
}

type delayWriter struct {
	wording
	by      time.Duration
	at      time.Time
	today   time.Time // its end
	present []models.Span
}

// groups lists what moves together, by the places of the tasks: the steps of a batch that has not begun, any other task alone.
func (w *delayWriter) groups(tasks []models.Task) [][]int {
	var out [][]int
	batch := map[string]int{} // the group of a batch's brewing
	for i := range tasks {
		t := &tasks[i]
		if t.State != models.Due || !ends(t).After(w.at.Add(-w.by)) || !t.At.Before(w.today) {
			continue // begun, over so long ago that it must be done, or not today's
		}
		switch t.Kind {
		case models.TaskDiscard, models.TaskHandover, models.TaskIceCheck, models.TaskTempLog, models.TaskLook:
			continue // fixed by the clock
		case models.TaskChill, models.TaskStrain, models.TaskStore:
			if g, ok := batch[t.Batch.ID]; ok {
				out[g] = append(out[g], i)
				continue
			}
			if t.Batch.StrainAt.IsZero() {
				continue // hot coffee does not wait
			}
			batch[t.Batch.ID] = len(out)
		case models.TaskBrew:
			if t.Batch == nil {
				continue
			}
			batch[t.Batch.ID] = len(out)
		}
		out = append(out, []int{i})
	}
	return out
}

// leave is when the people who are there at an instant leave.
func (w *delayWriter) leave(t time.Time) time.Time {
	for _, s := range w.present {
		if !t.Before(s.From) && !t.After(s.To) {
			return s.To
		}
	}
	return t
}

// shift is how much later a group can be: not so late that people have left before its end.
func (w *delayWriter) shift(tasks []models.Task, group []int) time.Duration {
	by := w.by
	for _, i := range group {
		if room := w.leave(tasks[i].At).Sub(ends(&tasks[i])); room < by {
			by = max(0, room.Truncate(layoutStep))
		}
	}
	return by
}

// move moves a group. A batch that has not begun is made that much later, one that steeps keeps its use-by time.
func (w *delayWriter) move(tasks []models.Task, group []int, by time.Duration) {
	first := &tasks[group[0]]
	var b *models.BatchTask
	if first.Batch != nil {
		later := *first.Batch
		b = &later
		last := &tasks[group[len(group)-1]]
		whole := last.Kind == models.TaskStore
		if first.Kind == models.TaskBrew {
			b.Start = b.Start.Add(by)
			if !b.IceAt.IsZero() {
				b.IceAt = b.IceAt.Add(by)
			}
			if whole {
				b.UseBy = b.UseBy.Add(by)
			}
		}
		if whole && !b.StrainAt.IsZero() {
			b.StrainAt = b.StrainAt.Add(by)
		}
		if whole {
			b.Ready = b.Ready.Add(by)
		}
	}
	var steps []models.Task
	for _, i := range group {
		t := &tasks[i]
		t.At = t.At.Add(by)
		if !t.Until.IsZero() {
			t.Until = t.Until.Add(by)
		}
		if !t.Planned.IsZero() {
			t.Planned = t.Planned.Add(by)
		}
		if b != nil {
			t.Batch = b
			steps = append(steps, *t)
		}
	}
	for k, i := range group {
		t := &tasks[i]
		switch {
		case b == nil:
		case t.PartOf == "":
			t.Say = w.line(steps[k:], b)
		default:
			t.Say = w.step(t)
		}
	}
}

// Kept returns the batches that a new plan stays close to, as the sheets have them: those of delayed sheets at their later times, and those
// of which somebody has decided the size by a look at what is left in that size.
func Kept(batches []models.BatchTask, sheets []models.PrepSheet) []models.BatchTask {
	out := slices.Clone(batches)
	for _, s := range sheets {
		by := delayed(s)
		for i := range s.Tasks {
			t := &s.Tasks[i]
			if t.Kind != models.TaskBrew || t.Batch == nil || t.State != models.Due {
				continue
			}
			k := slices.IndexFunc(out, func(b models.BatchTask) bool {
				same := b.State == models.Due && b.Brewer == t.Batch.Brewer && b.Beverage == t.Batch.Beverage && b.Date == t.Batch.Date && b.Start.Add(by).Equal(t.Batch.Start)
				if b.Choice != "" && t.Batch.Choice == "" {
					return same // decided
				}
				return same && by > 0 && b.BeverageG == t.Batch.BeverageG && b.Ready.Sub(b.Start) == t.Batch.Ready.Sub(t.Batch.Start)
			})
			if k >= 0 {
				b := *t.Batch
				b.ID = out[k].ID
				out[k] = b
			}
		}
	}
	return out
}

// delayed is how much later the tasks of a sheet are than those of its plan.
func delayed(s models.PrepSheet) time.Duration {
	sum := 0.0
	for _, d := range s.Delays {
		sum += d.Minutes
	}
	return models.Minutes(sum)
}
