package facts

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
)

// How far back counts of ice, tank and beans are read, and of beverages, none of which is held longer.
const (
	countsBack    = 60 * 24 * time.Hour
	beveragesBack = 14 * 24 * time.Hour
)

// stock reads the stock: the last counts, with batches, purchases and discards since.
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

// openingIce sets the ice from the last count, or from the set-up if that was counted later, carried forward to now; ice-bath ice
// with the mould loads taken since. counted_at gives the time of the count.
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
	moves, plain := g.iceMoves(changes)
	for _, m := range plain {
		if since := ice.Plain.CountedAt; since != nil && m.at.After(*since) {
			ice.Plain.OpeningG += m.g
		}
	}
	if ice.CountedAt == nil {
		return nil
	}
	return g.carryIce(append(moves, g.batchIce()...))
}

// iceMoves is the ice bought in, thrown away and emptied out of trays into the bin of ice for drinks, and the ice emptied into that for
// ice baths.
func (g *gathering) iceMoves(changes []models.StockChange) (drinks, plain []moved) {
	for _, c := range changes {
		switch {
		case c.IceG == nil:
		case c.Kind == "discarded":
			drinks = append(drinks, moved{c.At, -*c.IceG})
		default:
			drinks = append(drinks, moved{c.At, *c.IceG})
		}
	}
	for i := range g.tasks {
		t := &g.tasks[i]
		if t.task.Kind != models.TaskIceTake && t.task.Kind != models.TaskIceRefill || t.mark.State != models.Made || t.task.Quota == nil {
			continue
		}
		for _, m := range g.r.Ice.Moulds {
			switch {
			case m.Code != t.task.Quota.Maker:
			case m.Treated:
				drinks = append(drinks, moved{t.mark.At, t.emptied()})
			default:
				plain = append(plain, moved{t.mark.At, t.emptied()})
			}
		}
	}
	return drinks, plain
}

// tank sets the treated water from the last count, at most the tank's capacity.
func (g *gathering) tank(counts []models.StockCount) {
	for _, c := range counts {
		if c.TankL != nil {
			g.r.Water.OpeningL = min(*c.TankL, g.r.Water.TankL)
		}
	}
}

// beanLots sets the grams and place of each lot from its last count. A lot counted in the freezer is assumed to have been frozen by
// then.
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

// lots tracks one beverage from its last count: lots added, and grams used at an instant.
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

// left subtracts usage from the oldest lot that existed at the time.
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

// beverages sets the stock of each beverage: the lots of its last count, plus batches and purchases and less discards and sales
// since. A batch that is ready is included, so that its sales can be subtracted; one made before the last count is included with 0
// g, which tells the planner that it was counted.
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

// batchesReady adds the batches that were made and are ready by now, each once, however many of its tasks were marked.
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

// brewOf is the task from which a batch's times count: its brewing, if that was marked.
func (g *gathering) brewOf(t *markedTask) *markedTask {
	for i := range g.tasks {
		o := &g.tasks[i]
		if o.task.Kind == models.TaskBrew && o.task.Batch != nil && o.task.Batch.ID == t.task.Batch.ID && t.task.Batch.ID != "" {
			return o
		}
	}
	return t
}

// takeSold subtracts the beverage used by drinks sold since each beverage's last count.
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
