package sheet

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
)

// layoutStep is the grid of times on a sheet.
const layoutStep = 5 * time.Minute

// workday is what the layout knows of the days of a plan.
type workday struct {
	presence
	hands   func(t time.Time) int // people free for prep; nil: not limited
	onShift func(t time.Time) int // likewise all people
	work    models.WorkMin
	used    map[string]time.Time // when each concentrate is first used

	makeLPerH float64 // brewing water that the treatment makes, L/h
}

// layOut gives every task its end and its people, and moves tasks that can wait or be done ahead to where hands are free, as late as
// possible. Tasks that fixed reports keep their times. It returns the tasks in the order in which people do them.
func (d *workday) layOut(tasks []models.Task, fixed func(*models.Task) bool) []models.Task {
	out := slices.Clone(tasks)
	if d.onShift == nil {
		d.onShift = d.hands
	}
	var movable []int
	var busy []models.Task
	for i := range out {
		t := &out[i]
		if t.Until.IsZero() {
			t.Until = t.At.Add(d.takes(t))
		}
		if t.Hands == 0 && t.Kind != models.TaskHandover {
			t.Hands = 1
		}
		if fixed(t) || d.room(t) == (room{}) {
			busy = append(busy, *t)
		} else {
			movable = append(movable, i)
		}
	}
	slices.SortStableFunc(movable, func(i, k int) int {
		a, b := &out[i], &out[k]
		return cmp.Or(patience(a)-patience(b), a.At.Compare(b.At), rank(a)-rank(b), cmp.Compare(a.ID, b.ID))
	})
	ends := map[string]time.Time{} // of the last step placed of each batch and of the last task at each tray
	mixed := mixedFirst(out)
	for _, i := range movable {
		t := &out[i]
		key := chain(t)
		d.place(t, busy, models.Later(ends[key], mixed[t.ID]), tail(out, t))
		if t.Kind == models.TaskWaterDraw && t.Draw != nil {
			d.use(t)
		}
		if key != "" {
			ends[key] = t.Until
		}
		busy = append(busy, *t)
	}
	slices.SortStableFunc(out, inOrder)
	return out
}

// mixedFirst returns when the concentrates of fills are ready, by the fill's id, where a bottle was to be mixed at the fill's own time and
// the fill can wait for it: until its water is used.
func mixedFirst(tasks []models.Task) map[string]time.Time {
	var mixes []*models.Task
	first := map[string]*models.Task{} // fill by concentrate
	for i := range tasks {
		t := &tasks[i]
		switch {
		case t.Kind == models.TaskMix && t.Mix != nil && t.State == models.Due:
			mixes = append(mixes, t)
		case t.Kind == models.TaskWaterDraw && t.Draw != nil:
			for _, c := range t.Draw.Concentrates {
				if f := first[c.Code]; f == nil || t.At.Before(f.At) {
					first[c.Code] = t
				}
			}
		}
	}
	ready := map[string]time.Time{}
	for _, m := range mixes {
		f := first[m.Mix.Code]
		if f == nil || f.State != models.Due || !m.Until.After(f.At) || m.At.After(f.At) {
			continue
		}
		ready[f.ID] = models.Later(ready[f.ID], f.At).Add(m.Until.Sub(m.At))
	}
	for id, at := range ready {
		for i := range tasks {
			if t := &tasks[i]; t.ID == id && at.Add(t.Until.Sub(t.At)).After(models.Later(t.Draw.By, t.Until)) {
				delete(ready, id)
			}
		}
	}
	return ready
}

// tail is how long the steps of a batch that follow one take, which must all be done before people leave.
func tail(tasks []models.Task, t *models.Task) (takes time.Duration) {
	if t.Kind != models.TaskStrain && t.Kind != models.TaskChill {
		return 0
	}
	for i := range tasks {
		o := &tasks[i]
		later := o.Kind == models.TaskStore || o.Kind == models.TaskChill && t.Kind == models.TaskStrain
		if later && chain(o) == chain(t) {
			takes += o.Until.Sub(o.At) + layoutStep
		}
	}
	return takes
}

// use notes when the concentrates of a fill are used.
func (d *workday) use(fill *models.Task) {
	if d.used == nil {
		d.used = map[string]time.Time{}
	}
	for _, c := range fill.Draw.Concentrates {
		if first, ok := d.used[c.Code]; !ok || fill.At.Before(first) {
			d.used[c.Code] = fill.At
		}
	}
}

// mixedBy is how much later a bottle may be mixed: before the first fill that takes of it. Where that is too early, last week's bottle may
// still be there, and the new one comes after the fill.
func (d *workday) mixedBy(t *models.Task) time.Duration {
	if t.Mix == nil {
		return 0
	}
	if room := d.used[t.Mix.Code].Sub(t.Until); room >= 0 {
		return room
	}
	return 2 * time.Hour
}

// patience is how well a task waits: what waits least is placed first.
func patience(t *models.Task) int {
	switch t.Kind {
	case models.TaskStrain:
		return -1
	case models.TaskBrew, models.TaskChill, models.TaskStore:
		return 0
	case models.TaskPull:
		return 1
	case models.TaskWaterDraw:
		return 2
	case models.TaskIceTake, models.TaskIceRefill, models.TaskIceFill:
		return 3
	case models.TaskMix:
		return 4
	case models.TaskIceCheck, models.TaskGet, models.TaskDiscard:
		return 5
	}
	return 6
}

// chain names what has tasks that must follow each other: the steps of a batch after brewing, and the loads of a set of trays.
func chain(t *models.Task) string {
	switch t.Kind {
	case models.TaskChill, models.TaskStrain, models.TaskStore:
		return "batch " + t.Batch.ID
	case models.TaskIceFill, models.TaskIceTake, models.TaskIceRefill:
		return "ice " + t.Station
	}
	return ""
}

// inOrder compares tasks in the order of a sheet: by time, then brewers, ice, water, beans, others.
func inOrder(a, b models.Task) int {
	return cmp.Or(a.At.Compare(b.At), rank(&a)-rank(&b), cmp.Compare(a.Station, b.Station), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
}

var ranks = map[string]int{
	models.TaskHandover: 0, models.TaskBrew: 1, models.TaskChill: 1, models.TaskStrain: 1, models.TaskStore: 2, models.TaskLook: 0, models.TaskIceCheck: 3,
	models.TaskIceTake: 4, models.TaskIceRefill: 4, models.TaskIceFill: 5, models.TaskMix: 6, models.TaskWaterDraw: 7, models.TaskPull: 8,
	models.TaskGet: 9, models.TaskCount: 10, models.TaskTempLog: 10, models.TaskDiscard: 11, models.TaskClean: 12,
}

// rank is the place of a task among those of the same time.
func rank(t *models.Task) int { return ranks[t.Kind] }

// room is how far a task may move.
type room struct{ before, after time.Duration }

// room returns how far a task of a kind may move from its time, nothing for those that keep it.
func (d *workday) room(t *models.Task) room {
	switch t.Kind {
	case models.TaskChill:
		return room{after: 15 * time.Minute} // not before it is brewed
	case models.TaskStrain:
		return room{after: 15 * time.Minute}
	case models.TaskIceTake, models.TaskIceRefill:
		return room{after: time.Hour} // not before it is frozen
	case models.TaskStore:
		return room{after: 30 * time.Minute}
	case models.TaskWaterDraw:
		return room{before: d.fillsAhead(t), after: fillsBy(t)}
	case models.TaskIceFill:
		return room{before: 30 * time.Minute, after: 30 * time.Minute}
	case models.TaskGet:
		return room{before: time.Hour, after: time.Hour}
	case models.TaskPull:
		return room{before: beansAhead}
	case models.TaskMix:
		return room{before: beansAhead, after: d.mixedBy(t)}
	case models.TaskCount, models.TaskClean:
		return room{before: time.Hour, after: time.Hour}
	case models.TaskTempLog:
		if t.Batch != nil {
			return room{before: time.Hour, after: 15 * time.Minute} // its time is a limit
		}
		return room{before: 30 * time.Minute, after: 30 * time.Minute}
	case models.TaskIceCheck:
		return room{before: 15 * time.Minute, after: 45 * time.Minute}
	case models.TaskDiscard:
		return room{after: time.Hour}
	}
	return room{}
}

// fillsAhead is how much earlier containers may be filled: the tank holds less then.
func (d *workday) fillsAhead(t *models.Task) time.Duration {
	const least, most = 15 * time.Minute, 45 * time.Minute
	if t.Draw == nil || d.makeLPerH <= 0 {
		return least
	}
	return min(most, max(least, models.Hours(t.Draw.TankAfterL/d.makeLPerH)))
}

// wideRoom is how far a task may move where nobody is free nearer to its time.
func (d *workday) wideRoom(t *models.Task, r room) room {
	const wide = 3 * time.Hour
	switch t.Kind {
	case models.TaskWaterDraw:
		if t.Draw != nil && d.makeLPerH > 0 {
			r.before = max(r.before, min(wide, models.Hours(t.Draw.TankAfterL/d.makeLPerH)))
		}
	case models.TaskIceTake, models.TaskIceRefill, models.TaskDiscard:
		r.after = wide
	case models.TaskMix:
		r.before = 4 * wide
	case models.TaskPull:
		r.before = 4 * wide
		if takes := t.Until.Sub(t.At); !d.open(t.At.Add(-takes), takes) { // for drinks made to order when people come: nothing brews as early
			r.after = 15 * time.Minute
		}
	case models.TaskIceFill, models.TaskIceCheck, models.TaskGet, models.TaskCount, models.TaskClean, models.TaskTempLog:
		r.before, r.after = max(r.before, wide), max(r.after, wide)
	}
	return r
}

// fillsBy is how much later containers may be filled: before their water is used.
func fillsBy(t *models.Task) time.Duration {
	if t.Draw == nil {
		return 0
	}
	return max(0, t.Draw.By.Sub(t.Until))
}

// takes is how long a task keeps hands busy that does not say so itself.
func (d *workday) takes(t *models.Task) time.Duration {
	minutes := 0.0
	switch t.Kind {
	case models.TaskBrew:
		minutes = d.work.Brew
	case models.TaskStore:
		minutes = d.work.Store
	case models.TaskIceFill, models.TaskIceTake, models.TaskIceRefill:
		minutes = d.work.Tray
	case models.TaskWaterDraw, models.TaskMix:
		minutes = d.work.Fill
	case models.TaskPull, models.TaskGet, models.TaskDiscard:
		minutes = d.work.Get
	case models.TaskCount, models.TaskClean:
		minutes = d.work.Count
	case models.TaskIceCheck, models.TaskTempLog, models.TaskLook:
		minutes = 1 // a look
	}
	return models.Minutes(minutes)
}

// place moves a task to the latest time at which hands are free, not before an instant; to a later one only where there is none. Where no
// time has free hands, people on shift leave serving for it. A task without a time near its own moves to the nearest at which it may begin:
// what follows a step of its batch, or would be too early before, only to a later one. tail is the time that must be left after it.
func (d *workday) place(t *models.Task, busy []models.Task, after time.Time, tail time.Duration) {
	r := d.room(t)
	own, takes := t.At, t.Until.Sub(t.At)
	for _, x := range []time.Time{after, d.from} {
		if x.After(t.At) {
			t.At = x.Add(layoutStep - 1).Truncate(layoutStep)
			if !d.open(t.At, takes) && d.open(x, takes) {
				t.At = x
			}
		}
	}
	earliest := models.Later(own.Add(-r.before), models.Later(after, d.from))
	put := func(at time.Time) {
		t.At, t.Until = at, at.Add(takes)
		if t.Planned.IsZero() && !at.Equal(own) {
			t.Planned = own
		}
	}
	from, latest := t.At, models.Later(own.Add(r.after), t.At)
	if ahead := own.Add(-takes).Truncate(layoutStep); t.Kind == models.TaskPull && d.hands != nil && !ahead.Before(earliest) {
		from = ahead // got out before they are used
	}
	step := layoutStep
	if t.Kind == models.TaskTempLog { // one reading after the other
		step = readingTakes
	}
	busyWith := func(people func(time.Time) int, rest time.Duration) func(time.Time) bool {
		return func(at time.Time) bool { return d.open(at, takes+rest) && d.freeHands(t, busy, at, takes, people) }
	}
	wide := d.wideRoom(t, r)
	for _, try := range []struct {
		free             func(time.Time) bool
		earliest, latest time.Time
	}{
		{busyWith(d.hands, tail), earliest, latest},
		{busyWith(d.onShift, tail), earliest, latest},
		{busyWith(d.onShift, tail), models.Later(own.Add(-wide.before), models.Later(after, d.from)), models.Later(own.Add(wide.after), t.At)},
		{func(at time.Time) bool { return d.open(at, takes+tail) && d.alone(t, busy, at, takes) }, earliest, latest},
		{func(at time.Time) bool { return d.open(at, takes) }, earliest, latest},
	} {
		for at := from; !at.Before(try.earliest); at = before(at, step) {
			if try.free(at) {
				put(at)
				return
			}
		}
		for at := next(from, step); !at.After(try.latest); at = next(at, step) {
			if try.free(at) {
				put(at)
				return
			}
		}
	}
	at, ok := d.last(from, takes)
	if r.before == 0 || !ok || at.Before(after) {
		at, ok = d.next(from, takes)
	}
	if !ok {
		at = from
	}
	for x := at; x.Before(at.Add(2 * time.Hour)); x = next(x, step) {
		if d.open(x, takes) && d.freeHands(t, busy, x, takes, d.onShift) {
			at = x
			break
		}
	}
	put(at)
}

// before and next are the times of a grid around an instant.
func before(t time.Time, step time.Duration) time.Time {
	if x := t.Truncate(step); x.Before(t) {
		return x
	}
	return t.Add(-step)
}

func next(t time.Time, step time.Duration) time.Time { return t.Truncate(step).Add(step) }

// freeHands reports whether enough of the people that a function counts are free for a task at an instant.
func (d *workday) freeHands(t *models.Task, busy []models.Task, at time.Time, takes time.Duration, people func(time.Time) int) bool {
	if people == nil || t.Hands == 0 {
		return true
	}
	if free := models.Minutes(d.work.Strain); t.Kind == models.TaskStrain {
		takes = min(takes, free)
	}
	for m := at; m.Before(at.Add(takes)) || m.Equal(at); m = m.Add(time.Minute) {
		need := t.Hands
		for i := range busy {
			o := &busy[i]
			if !m.Before(o.At) && m.Before(d.handsUntil(o)) {
				need += o.Hands
			}
		}
		if need > people(m) {
			return false
		}
	}
	return true
}

// alone reports whether nobody has another task: then somebody who serves helps for a moment with a lift.
func (d *workday) alone(t *models.Task, busy []models.Task, at time.Time, takes time.Duration) bool {
	return d.freeHands(t, busy, at, takes, func(time.Time) int { return t.Hands })
}

// handsUntil is when a task leaves its people free for others: straining runs by itself most of its time.
func (d *workday) handsUntil(t *models.Task) time.Time {
	if free := t.At.Add(models.Minutes(d.work.Strain)); t.Kind == models.TaskStrain && free.Before(t.Until) {
		return free
	}
	return t.Until
}

// handsFree returns how many people are free for prep at an instant, from the plan's time of people by half hour: one at least, who sets
// up before the first shift listed. It is nil where the site lists nobody.
func handsFree(hours []models.HalfHour) func(time.Time) int {
	if len(hours) == 0 {
		return nil
	}
	return func(t time.Time) int {
		for _, h := range hours {
			if !t.Before(h.At) && t.Before(h.At.Add(30*time.Minute)) {
				return max(1, int(math.Floor(h.FreeMin/30+1e-9)))
			}
		}
		return 1
	}
}
