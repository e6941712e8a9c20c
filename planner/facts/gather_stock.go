package facts

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// How far back a count of ice, tank and beans is looked for, and beverages, none of which is held longer.
const (
	countsBack    = 60 * 24 * time.Hour
	beveragesBack = 14 * 24 * time.Hour
)

// stock reads what is there: as last counted, with what was made, bought in and thrown away since.
func (g *gathering) stock() error {
	until := g.q.Now.Add(time.Millisecond)
	counts, err := g.st.StockCounts(g.ctx, g.q.Site, g.q.Now.Add(-countsBack), until)
	if err != nil {
		return err
	}
	changes, err := g.st.StockChanges(g.ctx, g.q.Site, g.q.Now.Add(-countsBack), until)
	if err != nil {
		return err
	}
	if err := g.openingIce(counts, changes); err != nil {
		return err
	}
	g.tank(counts)
	g.beanLots(counts)
	return g.beverages(counts, changes)
}

// openingIce is the ice last counted, or that of the set-up if that was counted later, carried on to now; plain ice with the loads
// taken from moulds since. counted_at says how old the knowledge is.
func (g *gathering) openingIce(counts []models.StockCount, changes []models.StockChange) error {
	ice := &g.r.Ice
	for _, c := range counts {
		at := c.CountedAt
		if c.IceG != nil && (ice.CountedAt == nil || !at.Before(*ice.CountedAt)) {
			ice.OpeningG, ice.CountedAt = *c.IceG, &at
		}
		if c.PlainIceG != nil && (ice.Plain.CountedAt == nil || !at.Before(*ice.Plain.CountedAt)) {
			ice.Plain.OpeningG, ice.Plain.CountedAt = *c.PlainIceG, &at
		}
	}
	var moves []moved
	for _, c := range changes {
		if c.IceG == nil {
			continue
		}
		if c.Kind == "discarded" {
			moves = append(moves, moved{c.At, -*c.IceG})
		} else {
			moves = append(moves, moved{c.At, *c.IceG})
		}
	}
	for i := range g.tasks {
		t := &g.tasks[i]
		if t.task.Kind != models.TaskIceTake || t.mark.State != models.Made || t.task.Quota == nil {
			continue
		}
		for _, m := range ice.Moulds {
			if m.Code != t.task.Quota.Maker {
				continue
			}
			if m.Treated {
				moves = append(moves, moved{t.mark.At, t.load()})
			} else if since := ice.Plain.CountedAt; since != nil && t.mark.At.After(*since) {
				ice.Plain.OpeningG += t.load()
			}
		}
	}
	if ice.CountedAt == nil {
		return nil
	}
	return g.carryIce(append(moves, g.batchIce()...))
}

// tank is the treated water last counted; more than the tank holds is a full tank.
func (g *gathering) tank(counts []models.StockCount) {
	for _, c := range counts {
		if c.TankL != nil {
			g.r.Water.OpeningL = min(*c.TankL, g.r.Water.TankL)
		}
	}
}

// beanLots sets grams and place of each lot as last counted. A lot found in the freezer was frozen, as far as is known, by then.
func (g *gathering) beanLots(counts []models.StockCount) {
	for _, c := range counts {
		for _, found := range c.Lots {
			for i := range g.r.Coffees {
				for k := range g.r.Coffees[i].Lots {
					lot := &g.r.Coffees[i].Lots[k]
					if lot.Code != found.Lot {
						continue
					}
					if found.Place == "freezer" && lot.Place != "freezer" {
						day := max(models.DateOf(c.CountedAt, g.r.Site.Location()), lot.RoastedOn)
						lot.FrozenOn = &day
					}
					lot.Grams, lot.Place = found.Grams, found.Place
					lot.OpenG = min(lot.OpenG, lot.Grams)
				}
			}
		}
	}
}

// lots follows one beverage from its last count: lots that came, and grams that went at an instant.
type lots struct {
	since time.Time // of the last count
	came  []models.Stock
	went  []struct {
		at time.Time
		g  float64
	}
}

func (l *lots) use(at time.Time, g float64) {
	l.went = append(l.went, struct {
		at time.Time
		g  float64
	}{at, g})
}

// left takes what went from the oldest lot that was there.
func (l *lots) left() []models.Stock {
	slices.SortStableFunc(l.came, func(a, b models.Stock) int { return a.MadeAt.Compare(b.MadeAt) })
	slices.SortStableFunc(l.went, func(a, b struct {
		at time.Time
		g  float64
	}) int {
		return a.at.Compare(b.at)
	})
	for _, w := range l.went {
		g := w.g
		for i := range l.came {
			if s := &l.came[i]; !s.MadeAt.After(w.at) {
				took := min(g, s.G)
				s.G -= took
				g -= took
			}
		}
	}
	return l.came
}

// beverages is the stock of each beverage: the lots of the last count that names it, what was made, bought in and thrown away
// since, less what was sold since. A batch that is ready stands here, so that what it sold is taken off; a batch that a count
// came after stands with 0 g, which tells the planner that it was counted.
func (g *gathering) beverages(counts []models.StockCount, changes []models.StockChange) error {
	by := map[string]*lots{}
	for _, b := range g.r.Beverages {
		by[b.Code] = &lots{since: g.q.Now.Add(-beveragesBack)}
	}
	for _, c := range counts {
		named := map[string]bool{}
		for _, s := range c.Beverages {
			l := by[s.Beverage]
			if l == nil || c.CountedAt.Before(l.since) {
				continue
			}
			if !named[s.Beverage] {
				named[s.Beverage] = true
				l.since, l.came = c.CountedAt, nil
			}
			if s.MadeAt.After(c.CountedAt) {
				s.MadeAt = c.CountedAt
			}
			l.came = append(l.came, s)
		}
	}
	g.batchesReady(by)
	for _, c := range changes {
		if c.Beverage == nil || c.G == nil || by[*c.Beverage] == nil || !c.At.After(by[*c.Beverage].since) {
			continue
		}
		if c.Kind == "discarded" {
			by[*c.Beverage].use(c.At, *c.G)
		} else {
			by[*c.Beverage].came = append(by[*c.Beverage].came, models.Stock{Beverage: *c.Beverage, G: *c.G, MadeAt: c.At})
		}
	}
	if err := g.takeSold(by); err != nil {
		return err
	}
	for _, b := range g.r.Beverages {
		g.r.Stock = append(g.r.Stock, by[b.Code].left()...)
	}
	return nil
}

// batchesReady adds the batches that were made and are ready by now, each once, whatever of its tasks was marked.
func (g *gathering) batchesReady(by map[string]*lots) {
	latest := map[string]*markedTask{}
	var order []string
	for i := range g.tasks {
		t := &g.tasks[i]
		if t.task.Batch == nil || t.mark.State != models.Made || t.task.Kind == models.TaskDiscard {
			continue
		}
		id := cmp.Or(t.task.Batch.ID, t.task.ID)
		if old := latest[id]; old == nil {
			order = append(order, id)
		} else if t.task.At.Before(old.task.At) {
			continue // the later step weighed what there is
		}
		latest[id] = t
	}
	for _, id := range order {
		t := latest[id]
		brew := g.brewOf(t)
		ready := brew.readyAt()
		if ready.After(g.q.Now) {
			continue // the planner counts it in when it is
		}
		if t.mark.At.Before(ready) && !t.mark.At.Before(brew.start) {
			ready = t.mark.At
		}
		s := models.Stock{Beverage: t.task.Batch.Beverage, G: t.grams(), MadeAt: ready}
		if l := by[s.Beverage]; !ready.After(l.since) {
			s.G = 0
			l.came = append(l.came, s)
		} else {
			l.came = append(l.came, s)
		}
	}
}

// brewOf is the task that the batch's times count from: its brewing, where somebody marked it.
func (g *gathering) brewOf(t *markedTask) *markedTask {
	for i := range g.tasks {
		o := &g.tasks[i]
		if o.task.Kind == models.TaskBrew && o.task.Batch != nil && o.task.Batch.ID == t.task.Batch.ID && t.task.Batch.ID != "" {
			return o
		}
	}
	return t
}

// takeSold takes off what drinks sold since each beverage's last count used.
func (g *gathering) takeSold(by map[string]*lots) error {
	from := g.q.Now
	for _, l := range by {
		since := l.since
		if first := l.firstLot(); first.After(since) {
			since = first
		}
		if len(l.came) > 0 && since.Before(from) {
			from = since
		}
	}
	if !from.Before(g.q.Now) {
		return nil
	}
	list, _, err := g.sales(from, g.q.Now)
	if err != nil {
		return err
	}
	uses := map[string][]models.Use{}
	for _, d := range g.r.Drinks {
		uses[d.Code] = d.Uses
	}
	for _, s := range list {
		for _, u := range uses[s.drink] {
			l := by[u.Beverage]
			if n := s.within(models.Span{From: l.since, To: g.q.Now}); n > 0 {
				at := s.span.To
				if at.After(g.q.Now) {
					at = g.q.Now
				}
				l.use(at, n*g.r.Site.UsedG(u.G))
			}
		}
	}
	return nil
}

func (l *lots) firstLot() time.Time {
	var first time.Time
	for i, s := range l.came {
		if i == 0 || s.MadeAt.Before(first) {
			first = s.MadeAt
		}
	}
	return first
}
