package audit

import (
	"time"

	"hotday/models"
)

var peopleRules = []Rule{
	{"people.there", "Nobody is asked to do anything when nobody is there.", peopleThere},
	{"people.attention", "No task begins while attention allows no starts, and no more batches than it allows.", attention},
	{"people.lift", "Two people lift more than 20 kg.", lifts},
	{"people.marks", "One mark a batch beside its readings, none for beans, water and trays, at most 25 a day.", marks},
	{"people.handover", "There is a handover at each change of shift.", handovers},
	{"brewer.free", "A brewer brews one batch at a time, when it is available and in order.", brewerFree},
	{"store.room", "The cold store never holds more than it can.", storeRoom},
}

// works reports whether a task is work still to be done.
func (t *task) works() bool { return t.State == models.Due && t.Kind != models.TaskHandover }

// end is when hands are free again.
func (t *task) end() time.Time {
	if t.Until.IsZero() {
		return t.At
	}
	return t.Until
}

func peopleThere(p *Papers, report report) {
	for _, t := range p.tasks {
		if t.works() && !t.begun && !t.later && !p.there(t.At, t.end()) {
			report(t.ID, "%s at %s to %s, when nobody is there", t.Kind, p.clock(t.At), p.clock(t.end()))
		}
	}
	for _, b := range p.due() {
		steps := map[string]time.Time{"starts": b.Start}
		if !b.StrainAt.IsZero() {
			steps["is strained"] = b.StrainAt
		}
		if !b.IceAt.IsZero() {
			steps["gets its ice"] = b.IceAt
		}
		for what, at := range steps {
			if !p.there(at, at) {
				report(b.ID, "%s at %s, when nobody is there", what, p.clock(at))
			}
		}
		if p.beverage(b.Beverage).Method != models.Steeped && !p.there(b.Ready, b.Ready) {
			report(b.ID, "hot coffee is ready at %s, when nobody is there", p.clock(b.Ready))
		}
	}
}

func attention(p *Papers, report report) {
	for _, t := range p.tasks {
		if !t.works() || t.begun || t.later {
			continue
		}
		for _, a := range p.request.Attention {
			if a.Starts == 0 && !t.At.Before(a.From) && t.At.Before(a.To) {
				report(t.ID, "%s begins at %s, when nothing begins", t.Kind, p.clock(t.At))
				break
			}
		}
	}
	starts := map[int64]int{}
	for _, b := range p.due() {
		starts[b.Start.Unix()]++
	}
	for unix, n := range starts {
		at, most, stated := time.Unix(unix, 0), p.request.Site.StartsPerSlot, false
		for _, a := range p.request.Attention {
			if !at.Before(a.From) && at.Before(a.To) && (!stated || a.Starts < most) {
				most, stated = a.Starts, true
			}
		}
		if n > most {
			report("plan", "%d batches start at %s, %d can", n, p.clock(at), most)
		}
	}
}

// heavyG is the mass that one person does not lift alone, g.
const heavyG = 20000

// liftedG is what a task lifts at once, g.
func (t *task) liftedG() float64 {
	switch {
	case t.Kind == models.TaskStrain && t.Batch != nil:
		return t.Batch.BrewWaterG + t.Batch.DoseG
	case (t.Kind == models.TaskStore || t.Kind == models.TaskChill) && t.Batch != nil:
		return t.Batch.BeverageG - t.Batch.IceG
	case t.Well != nil:
		return t.Well.G
	}
	return 0
}

func lifts(p *Papers, report report) {
	for _, t := range p.tasks {
		if g := t.liftedG(); t.works() && g > heavyG && t.Hands < 2 {
			report(t.ID, "%.1f kg and %d people", g/1000, t.Hands)
		}
		if c := p.request.Water.ContainerL; t.works() && t.Kind == models.TaskWaterDraw && c > heavyG/1000 && t.Draw != nil && t.Draw.DrawL > heavyG/1000 && t.Hands < 2 {
			report(t.ID, "containers of %.0f L and %d people", c, t.Hands)
		}
	}
}

// mostMarks is how many marks a day people make.
const mostMarks = 25

// unmarked are the kinds of task that need no mark.
var unmarked = map[string]bool{models.TaskPull: true, models.TaskWaterDraw: true, models.TaskMix: true, models.TaskIceFill: true, models.TaskIceTake: true, models.TaskIceRefill: true, models.TaskHandover: true}

func marks(p *Papers, report report) {
	stated := false
	for _, t := range p.tasks {
		stated = stated || t.Mark
	}
	if !stated && len(p.due()) > 0 {
		report("sheets", "they do not say which tasks want a mark")
		return
	}
	byBatch := map[string]int{}
	for i := range p.sheets {
		s := &p.sheets[i]
		n, batches := 0, 0
		for k := range s.Tasks {
			t := &s.Tasks[k]
			if t.Kind == models.TaskBrew {
				batches++
			}
			if !t.Mark {
				continue
			}
			if t.Kind == models.TaskTempLog && t.Batch != nil {
				continue // a cooling log is written down, whatever is marked
			}
			n++
			if unmarked[t.Kind] {
				report(t.ID, "a mark for %s", t.Kind)
			}
			if t.Batch != nil && t.Kind != models.TaskDiscard {
				byBatch[t.Batch.ID]++
			}
		}
		if n > max(mostMarks, batches+5) {
			report(string(s.Date), "%d marks for %d batches", n, batches)
		}
	}
	for id, n := range byBatch {
		if n > 1 {
			report(id, "%d marks for one batch", n)
		}
	}
}

func handovers(p *Papers, report report) {
	if len(p.request.Site.People) == 0 {
		return
	}
	seen := map[int64]bool{}
	for _, s := range shifts(p.request) {
		for _, at := range []time.Time{s.From, s.To} {
			if seen[at.Unix()] {
				continue
			}
			seen[at.Unix()] = true
			day := p.request.Site.ServiceDayOf(at)
			if p.onShift(at.Add(-time.Second)) <= 0 || p.onShift(at) <= 0 || !at.After(p.plan.ComputedAt) || day < p.plan.From || day > p.plan.From.AddDays(p.plan.Days-1) ||
				!p.there(at.Add(-time.Minute), at.Add(time.Minute)) {
				continue
			}
			found := false
			for _, t := range p.tasks {
				found = found || t.Kind == models.TaskHandover && t.At.Equal(at)
			}
			if !found {
				report(string(day), "shift changes at %s without a handover", p.clock(at))
			}
		}
	}
}

func brewerFree(p *Papers, report report) {
	type busy struct {
		models.Span
		brewer, id string
	}
	var all []busy
	for i := range p.plan.Batches {
		b := &p.plan.Batches[i]
		w := p.brewer(b.Brewer)
		if w == nil {
			if b.State == models.Due {
				report(b.ID, "no brewer %q", b.Brewer)
			}
			continue
		}
		s := busy{models.Span{From: b.Start, To: b.Start.Add(models.Minutes(w.BusyMin))}, b.Brewer, b.ID}
		if b.State == models.Made {
			continue
		}
		for _, o := range all {
			if o.brewer == s.brewer && !o.Overlap(s.Span).Empty() {
				report(b.ID, "on %s at the same time as %s", b.Brewer, o.id)
			}
		}
		all = append(all, s)
		if b.State != models.Due {
			continue
		}
		if models.Touches(p.outages("brewer", b.Brewer), s.Span) {
			report(b.ID, "%s is out of order", b.Brewer)
		}
		if len(w.Available) > 0 && !p.available(w, s.Span) {
			report(b.ID, "%s–%s is outside the hours of %s", p.clock(s.From), p.clock(s.To), b.Brewer)
		}
		makes := false
		for _, code := range w.Beverages {
			makes = makes || code == b.Beverage
		}
		if !makes {
			report(b.ID, "%s does not make %s", b.Brewer, b.Beverage)
		}
		// Where no dose gives between the least and the most of a brewer, the next smaller one does.
		least := w.MinBeverageG
		if w.MaxBeverageG-least < p.sizeWithin(b) {
			least -= p.sizeWithin(b)
		}
		if b.BeverageG < least-1e-6 || b.BeverageG > w.MaxBeverageG+1e-6 || w.MaxDoseG != nil && b.DoseG > *w.MaxDoseG+1e-6 || w.MaxWaterG != nil && b.BrewWaterG > *w.MaxWaterG+1e-6 {
			report(b.ID, "%.0f g (%.0f g coffee, %.0f g water) does not fit %s", b.BeverageG, b.DoseG, b.BrewWaterG, b.Brewer)
		}
	}
}

func (p *Papers) available(w *models.Brewer, s models.Span) bool {
	var spans []models.Span
	for d := models.DateOf(s.From, p.loc).AddDays(-2); d <= models.DateOf(s.To, p.loc).AddDays(1); d = d.AddDays(1) {
		for _, c := range w.Available {
			spans = append(spans, c.On(d, p.loc))
		}
	}
	for _, a := range models.Merged(spans) {
		if !s.From.Before(a.From) && !s.To.After(a.To) {
			return true
		}
	}
	return false
}

// storeRoom adds the stock curves up. What was there or under way when the plan was made may be more than the store holds.
func storeRoom(p *Papers, report report) {
	limit := p.request.Site.StoreG
	opening := 0.0
	for i := range p.plan.Batches {
		if b := &p.plan.Batches[i]; b.State != models.Due {
			opening += b.BeverageG
		}
	}
	for _, s := range p.request.Stock {
		opening += s.G
	}
	level := map[string]float64{}
	points := p.stockInOrder()
	for i, x := range points {
		level[x.Beverage] = x.G
		if x.G < -1 {
			report(x.Beverage, "%.0f g at %s", x.G, p.clock(x.At))
			return
		}
		if i+1 < len(points) && points[i+1].At.Equal(x.At) {
			continue
		}
		sum := 0.0
		for _, g := range level {
			sum += g
		}
		if sum > max(limit, opening, limit+opening)*(1+1e-9)+1 {
			report("cold store", "%.0f g at %s, it holds %.0f g", sum, p.clock(x.At), limit)
			return
		}
	}
}
