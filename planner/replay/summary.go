package replay

import (
	"math"
	"strings"

	"hotday/models"
)

// Summary is a result as a site keeps it, with its chart.
func Summary(r *Result) (models.Replay, error) {
	var svg strings.Builder
	if err := WriteSVG(&svg, r); err != nil {
		return models.Replay{}, err
	}
	spans := r.Spans()
	all := &spans[len(spans)-1]
	out := models.Replay{From: r.From, To: r.To, Currency: r.Site.Currency, SVG: svg.String(), Open: all.Figures[Plan].OpenDays, Demand: all.Figures[Plan].Demand}
	for _, m := range r.Methods {
		f := &all.Figures[m]
		one := models.ReplayMethod{Name: m.String(), Cost: f.Cost(), PouredKg: f.PouredG / 1000, Missed: f.Missed, IceShortH: f.IceShortH}
		if m == Plan && all.Rows > 0 {
			one.InsidePct = new(math.Round(1000*all.Inside/all.Rows) / 10)
		}
		out.Methods = append(out.Methods, one)
	}
	return out, nil
}
