package replay

import (
	"errors"
	"math"
	"strings"

	"hotday/models"
)

// Summary is a result as a site keeps it, with its charts.
func Summary(r *Result) (models.Replay, error) {
	var lines, curve strings.Builder
	if err := errors.Join(WriteSVG(&lines, r), WriteCurveSVG(&curve, r)); err != nil {
		return models.Replay{}, err
	}
	spans := r.Spans()
	all := &spans[len(spans)-1]
	out := models.Replay{From: r.From, To: r.To, Currency: r.Site.Currency, SVG: lines.String(), CurveSVG: curve.String(), Savings: r.Savings(),
		Open: all.Figures[Plan].OpenDays, Demand: all.Figures[Plan].Demand}
	for _, p := range r.compared() {
		one := methodOf(p, r.of(all, p))
		if p == (Policy{Method: Plan}) && all.Rows > 0 {
			one.InsidePct = new(math.Round(1000*all.Inside/all.Rows) / 10)
		}
		out.Methods = append(out.Methods, one)
	}
	for _, x := range r.Curve() {
		out.Curve = append(out.Curve, methodOf(x.Policy, &x.Figures))
	}
	return out, nil
}

func methodOf(p Policy, f *Figures) models.ReplayMethod {
	return models.ReplayMethod{Name: p.String(), Cost: f.Cost(), PouredKg: f.PouredG / 1000, Missed: f.Missed, IceShortH: f.IceShortH}
}
