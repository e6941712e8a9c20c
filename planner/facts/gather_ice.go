package facts

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/ice"
)

const (
	iceRollBack = 72 * time.Hour // an older count is taken as made this long ago
	iceRollStep = 15 * time.Minute
)

// moved is ice added to the bin (positive) or taken out (negative).
type moved struct {
	at time.Time
	g  float64
}

// carryIce carries the last count of drink ice forward to now: production at the hour's air temperature, melting, the bin's
// capacity, ice used in drinks sold, and moves (loads taken, batches, purchases, discards). If the till has posted no sales since,
// only the moves count: without the ice used in drinks, production alone would fill the bin on paper. The time of the count stays,
// since uncertainty grows with its age.
func (g *gathering) carryIce(moves []moved) error {
	x := &g.r.Ice
	from, now := *x.CountedAt, g.q.Now
	if !from.Before(now) {
		return nil
	}
	early := now.Add(-iceRollBack)
	if from.Before(early) {
		from = early
	}
	list, last, err := g.sales(from, now)
	if err != nil {
		return err
	}
	if !last.After(from) {
		x.OpeningG = carried(x.OpeningG, math.Inf(1), 1, *x.CountedAt, now, moves, nil)
		return nil
	}
	serving := map[string]float64{}
	for i := range g.r.Drinks {
		d := &g.r.Drinks[i]
		serving[d.Code] = g.r.Site.ServingIceUsedG(d)
	}
	for _, s := range list {
		if n := s.within(models.Span{From: from, To: now}) * serving[s.drink]; n > 0 {
			o := s.span.Overlap(models.Span{From: from, To: now})
			moves = append(moves, moved{o.From.Add(o.To.Sub(o.From) / 2), -n})
		}
	}
	makers, err := g.makersSince(from)
	if err != nil {
		return err
	}
	keep := math.Pow(1-x.BinLossPctPH/100, iceRollStep.Hours())
	x.OpeningG = carried(min(x.OpeningG, x.BinG), x.BinG, keep, from, now, moves, makers)
	return nil
}

// carried is the ice in a bin at to, given g at from. In each step the fraction keep survives melting, makers (grams an hour at an
// instant) add ice, and moves are applied. The result is never below zero, nor above the bin's size unless it was already.
func carried(g, size, keep float64, from, to time.Time, moves []moved, makers func(time.Time) float64) float64 {
	moves = slices.Clone(moves)
	slices.SortStableFunc(moves, func(a, b moved) int { return a.at.Compare(b.at) })
	next := 0
	for ; next < len(moves) && !moves[next].at.After(from); next++ { // before the count
	}
	for at := from; at.Before(to); {
		end := at.Add(iceRollStep)
		part := 1.0
		if end.After(to) {
			part, end = float64(to.Sub(at))/float64(iceRollStep), to
		}
		g *= math.Pow(keep, part)
		if makers != nil {
			g += makers(at) * end.Sub(at).Hours()
		}
		for ; next < len(moves) && !moves[next].at.After(end); next++ {
			g += moves[next].g
		}
		g = min(max(0, g), size)
		at = end
	}
	return g
}

// makersSince is the output of the makers of drink ice at an instant, in grams an hour, at the observed or forecast air
// temperature; if that is missing, at the temperature that the planner assumes.
func (g *gathering) makersSince(from time.Time) (func(time.Time) float64, error) {
	air, err := g.airSince(from)
	if err != nil {
		return nil, err
	}
	out, err := g.st.Outages(g.ctx, g.q.Site, from, g.q.Now)
	if err != nil {
		return nil, err
	}
	return func(at time.Time) float64 {
		c, ok := air(at)
		if !ok {
			c = models.UnknownHottestC
		}
		sum := 0.0
		for i := range g.r.Ice.Makers {
			if m := &g.r.Ice.Makers[i]; m.Treated && !isAway(out, m.Code, at) {
				sum += g.outputOf(m)(c)
			}
		}
		return sum
	}, nil
}

// airSince is the observed or forecast air temperature of an instant since from, °C; ok is false where it is unknown.
func (g *gathering) airSince(from time.Time) (func(time.Time) (c float64, ok bool), error) {
	hours, err := g.st.Weather(g.ctx, g.q.Site, from.Add(-time.Hour), g.q.Now, g.q.Now)
	if err != nil {
		return nil, err
	}
	air := map[int64]float64{}
	for _, h := range hours {
		air[h.At.Truncate(time.Hour).Unix()] = h.TempC
	}
	return func(at time.Time) (float64, bool) {
		c, ok := air[at.Truncate(time.Hour).Unix()]
		return c, ok
	}, nil
}

// isAway reports whether an ice machine is out of order at an instant, or has no water.
func isAway(out []models.Outage, machine string, at time.Time) bool {
	return slices.ContainsFunc(out, func(o models.Outage) bool {
		return (o.Kind == "tank" || o.Kind == "maker" && o.Code == machine) && !at.Before(o.From) && at.Before(o.To)
	})
}

// outputOf is the output of an ice machine by the air temperature, in grams an hour.
func (g *gathering) outputOf(m *models.IceMaker) func(airC float64) float64 {
	machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
	for _, p := range m.Curve {
		machine.Curve = append(machine.Curve, ice.Point(p))
	}
	return func(airC float64) float64 { return machine.KgPerDay(airC, g.r.Ice.InletWaterC) * 1000 / 24 }
}

// batchIce is the ice for drinks used by batches begun since, their baths included, each counted once, however many of its tasks were marked.
func (g *gathering) batchIce() []moved {
	seen := map[string]bool{}
	var out []moved
	for i := range g.tasks {
		t := &g.tasks[i]
		if t.task.Batch == nil || t.task.Batch.IceG+t.task.Batch.BathFromDrinksG <= 0 || t.task.Kind == models.TaskDiscard || t.mark.State != models.Made && t.mark.State != models.Started {
			continue
		}
		id := cmp.Or(t.task.Batch.ID, t.task.ID)
		given := t.task.Batch.IceAt
		if given.IsZero() { // only its bath takes ice
			given = t.task.Batch.Ready
		}
		at := g.brewOf(t).start.Add(given.Sub(t.task.Batch.Start))
		if seen[id] || at.After(g.q.Now) {
			continue
		}
		seen[id] = true
		out = append(out, moved{at, -t.task.Batch.IceG - t.task.Batch.BathFromDrinksG})
	}
	return out
}
