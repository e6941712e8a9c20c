package replay

import (
	"cmp"
	"slices"

	"hotday/planner/say"
)

// Point is a policy's result over the whole season.
type Point struct {
	Policy
	Figures Figures
}

// Curve is the result of every policy in the shop as it is, over the whole season: by method, in order of the setting.
func (r *Result) Curve() []Point {
	spans := r.Spans()
	all := &spans[len(spans)-1]
	var out []Point
	for _, m := range r.Methods {
		out = append(out, Point{Policy{Method: m}, all.Figures[m]})
	}
	for k, p := range r.Points {
		if p.Change == nil && k < len(all.Points) {
			out = append(out, Point{p, all.Points[k]})
		}
	}
	slices.SortStableFunc(out, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.Method, b.Method), cmp.Compare(a.order(), b.order()))
	})
	return out
}

// order sorts the policies of a method: par sheets by their cushion, plans by their level with the plan as it is first.
func (p Policy) order() float64 {
	if p.Method == Par && p.Setting == 0 {
		return 1
	}
	return p.Setting
}

// BestPar is the par sheet whose cushion costs least over the whole season: the fair yardstick, as a shop tunes its par levels to its
// own prices, though not in hindsight.
func (r *Result) BestPar() Policy {
	var best *Point
	points := r.Curve()
	for i := range points {
		if p := &points[i]; p.Method == Par && (best == nil || p.Figures.Cost() < best.Figures.Cost()) {
			best = p
		}
	}
	if best == nil {
		return Policy{Method: Par}
	}
	return best.Policy
}

// compared are the policies of each span's table: the methods as they are, with the best par sheet after the usual one.
func (r *Result) compared() []Policy {
	best := r.BestPar()
	var out []Policy
	for _, m := range r.Methods {
		out = append(out, Policy{Method: m})
		if m == Par && best.Setting > 0 {
			out = append(out, best)
		}
	}
	return out
}

// of returns the figures of a policy in a span.
func (r *Result) of(s *Sums, p Policy) *Figures {
	if k := slices.Index(r.Points, p); k >= 0 && k < len(s.Points) {
		return &s.Points[k]
	}
	return &s.Figures[p.Method]
}

// ofDay returns the figures of a policy on day i.
func (r *Result) ofDay(i int, p Policy) *Figures {
	if k := slices.Index(r.Points, p); k >= 0 {
		return &r.Days[i].Points[k]
	}
	return &r.Days[i].Figures[p.Method]
}

// policyKeys name a method at a setting.
var policyKeys = [methods]string{"replay.policy.plan", "", "replay.policy.replanned", "replay.policy.par", ""}

// policyName names a policy of the shop as it is in words.
func policyName(v say.Voice, p Policy) string {
	if p.Setting == 0 {
		return v.Say(methodKeys[p.Method])
	}
	return v.Say(policyKeys[p.Method], "factor", plainNumber(p.Setting), "pct", plainNumber(p.Setting))
}
