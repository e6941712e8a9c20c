package risk

import (
	"context"

	"hotday/planner/demand"
)

// Days are simulated days whose random numbers are drawn once, at first use, for many plans: drawing takes longer than simulating. They
// are not safe for concurrent use.
type Days struct {
	seed   int64
	n      int
	scores *demand.Scores

	streams          map[string][]float64 // by key
	level, tempError [][]float64
	customers        map[string]*customers // by key of their row
	laid             []*slotDemand         // by slot, as far as it has been simulated
	asked            [][]float64           // servings in all runs up to there, by day and drink
}

// Draw prepares n days (n < 1: 1000).
func Draw(seed int64, n int) *Days {
	if n < 1 {
		n = defaultRuns
	}
	return &Days{seed: seed, n: n, scores: demand.NewScores(seed, n), streams: map[string][]float64{}, customers: map[string]*customers{}}
}

// Simulate is the function Simulate on these days, with the same result but for Levels, which it leaves out. All inputs must have the same
// rows, drinks, days and assumptions.
func (d *Days) Simulate(ctx context.Context, in Input) (Result, error) {
	s := newSimulation(in, d.seed, d.n, d)
	if err := s.run(ctx, 0, in.Slots); err != nil {
		return Result{}, err
	}
	s.finish()
	return s.result, nil
}

// stream copies the scores of a key to dst.
func (d *Days) stream(key string, dst []float64) {
	x, ok := d.streams[key]
	if !ok {
		x = make([]float64, d.n)
		d.scores.Draw(key, x)
		d.streams[key] = x
	}
	copy(dst, x)
}

// draw fills dst with the scores of a key.
func (s *simulation) draw(key string, dst []float64) {
	if s.days != nil {
		s.days.stream(key, dst)
		return
	}
	s.scores.Draw(key, dst)
}

// arrive returns the customers of a row.
func (s *simulation) arrive(r *Row) *customers {
	if s.days != nil {
		if c := s.days.customers[r.Key]; c != nil {
			return c
		}
	}
	c := &customers{perCustomer: make([]float64, s.n)}
	if k := len(s.spare); k > 0 {
		c, s.spare = s.spare[k-1], s.spare[:k-1]
	}
	s.draw(r.Key, s.own)
	s.in.Assume.Correlation.Servings(r.Range.Table(), s.level[r.Day], s.own, c.perCustomer)
	c.arrive(s.seed, r)
	if s.days != nil {
		s.days.customers[r.Key] = c
	}
	return c
}
