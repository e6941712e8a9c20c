package demo

import (
	"hash/fnv"
	"time"

	"hotday/models"
)

// seldomLate is the share of tasks, one in so many, for which the staff need longer than usual.
const seldomLate = 9

// lateness is the time from when a task is due until the staff have done it: one to four minutes, now and then ten.
func lateness(task string) time.Duration {
	h := fnv.New32a()
	_, _ = h.Write([]byte(task))
	n := h.Sum32()
	if n%seldomLate == 0 {
		return 10 * time.Minute
	}
	return time.Minute + time.Duration(n/seldomLate%4)*time.Minute
}

// Marks are the marks that the staff have made by an instant on open tasks of a sheet. left says how much of a beverage there is, g.
func Marks(tasks []models.Task, now time.Time, left func(beverage string) float64) []models.TaskMark {
	last := map[string]time.Time{} // of the steps of a batch, by the task whose mark counts for them
	for _, t := range tasks {
		if t.PartOf != "" && t.At.After(last[t.PartOf]) {
			last[t.PartOf] = t.At
		}
	}
	var out []models.TaskMark
	for _, t := range tasks {
		if !t.Mark || t.PartOf != "" || t.State != models.Due && t.State != models.Started {
			continue
		}
		at := t.At.Add(lateness(t.ID))
		m := models.TaskMark{Task: t.ID, State: models.Made, At: at, Key: "staff-" + t.ID}
		if step, several := last[t.ID]; several {
			if t.State == models.Due && !at.After(now) {
				out = append(out, models.TaskMark{Task: t.ID, State: models.Started, At: at, Key: "staff-" + t.ID + "-started"})
			}
			if done := step.Add(lateness(t.ID)); done.After(at) {
				m.At = done
			}
		}
		if m.At.After(now) {
			continue
		}
		switch {
		case t.Kind == models.TaskLook:
			m.LeftG = new(left(t.Beverage))
		case t.Reading != nil:
			m.TempC = new(t.Reading.LimitC - 1.5)
		}
		out = append(out, m)
	}
	return out
}

// counted is how much less ice than the plan expects the staff find in the bin in the morning, g.
const counted = 1200.0

// Counts are the morning counts of ice between two instants, at opening: a little less than the plan expects, as from that machine on a
// warm night.
func Counts(p models.Plan, site models.Site, from, to time.Time) []models.StockCount {
	var out []models.StockCount
	for d := site.ServiceDayOf(from); d <= site.ServiceDayOf(to); d = d.AddDays(1) {
		open := site.OpenSpans(d)
		if len(open) == 0 || open[0].From.Before(from) || open[0].From.After(to) {
			continue
		}
		for i := range p.Ice.Levels {
			if l := &p.Ice.Levels[i]; !l.At.Before(open[0].From) {
				out = append(out, models.StockCount{CountedAt: open[0].From, IceG: new(max(0, l.G-counted))})
				break
			}
		}
	}
	return out
}
