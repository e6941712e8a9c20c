package picture

import (
	"slices"
	"strings"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/say"
)

// PartTotal is the total demand for all drinks in a day part. As in the plan, drinks are correlated through the level of their day.
type PartTotal struct {
	Date                   models.Date
	Part                   models.DayPart
	P10, P50, P90, Prepare float64
	Bases                  []string
	ranges                 []demand.Range
}

// PartTotals sums a plan's demand by day part, in chronological order.
func PartTotals(site models.Site, rows []models.DemandRange) []PartTotal {
	var out []PartTotal
	for _, r := range rows {
		i := slices.IndexFunc(out, func(t PartTotal) bool { return t.Date == r.Date && t.Part.Code == r.DayPart })
		if i < 0 {
			at := slices.IndexFunc(site.DayParts, func(p models.DayPart) bool { return p.Code == r.DayPart })
			if at < 0 {
				continue
			}
			i = len(out)
			out = append(out, PartTotal{Date: r.Date, Part: site.DayParts[at]})
		}
		t := &out[i]
		t.Prepare += r.Prepare
		t.ranges = append(t.ranges, demand.FromForecast(models.Forecast{Mean: r.Mean, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{r.P10, r.P50, r.P90}}))
		if r.Basis != "" && !slices.Contains(t.Bases, r.Basis) {
			t.Bases = append(t.Bases, r.Basis)
		}
	}
	for i := range out {
		t := &out[i]
		t.P10, t.P50, t.P90 = demand.SumQuantiles(t.ranges, demand.DefaultCorrelation())
	}
	slices.SortStableFunc(out, func(a, b PartTotal) int {
		return site.DayPartSpan(a.Date, a.Part).From.Compare(site.DayPartSpan(b.Date, b.Part).From)
	})
	return out
}

// Text describes the total with its bases.
func (t PartTotal) Text(q say.Writer) string {
	c := texts.For(q.SiteLanguage())
	s := c.Say("picture.servings", "day", q.Weekday(t.Date.At(720, q.Location())), "part", t.Part.Code, "middle", q.Servings(t.P50), "low", q.Servings(t.P10),
		"high", q.Servings(t.P90), "make", q.Servings(t.Prepare))
	if len(t.ranges) > 1 {
		s += c.Say("picture.together")
	}
	if len(t.Bases) > 0 {
		s += c.Say("picture.from", "bases", strings.Join(t.Bases[:min(2, len(t.Bases))], "; "))
	}
	return s
}

// servings draws each day part's range as a bar with a notch and a number at the median.
func (p *drawing) servings(height float64) {
	totals := p.totals
	if p.narrow && !slices.ContainsFunc(totals, func(t PartTotal) bool { return p.axis.Holds(p.req.Site.DayPartSpan(t.Date, t.Part).From) }) {
		return
	}
	p.section(func(top float64) float64 {
		p.rule(top, height)
		p.text("lane-name", "start", p.margin(), top+14, p.say("picture.drinks"))
		if !p.narrow {
			p.text("aside", "start", 0, top+30, p.say("picture.by_part"))
		}
		most := 1.0
		for _, t := range totals {
			most = max(most, t.P90)
		}
		base, full := top+height-24, height-24-38
		y := func(n float64) float64 { return base - full*n/most }
		for _, t := range totals {
			sp := p.req.Site.DayPartSpan(t.Date, t.Part)
			if !p.axis.Holds(sp.From) {
				continue
			}
			end := sp.To
			if end.After(p.axis.To) {
				end = p.axis.To
			}
			x := (p.axis.X(sp.From) + p.axis.X(end)) / 2
			p.open("a", "asks", "href", "#d-"+string(t.Date), "aria-label", t.Text(p.q))
			p.rect("hit", x-24, top+18, 48, height-18)
			p.line("stem", x, base, x, y(t.P10))
			p.rect("range", x-5, y(t.P90), 10, max(1.5, y(t.P10)-y(t.P90)))
			p.line("notch", x-10, y(t.P50), x+10, y(t.P50))
			p.text("serving halo", "middle", x, y(t.P90)-7, say.Number(t.P50, 0))
			p.text("ends", "middle", x, base+16, say.Number(t.P10, 0)+"–"+say.Number(t.P90, 0))
			p.close("a")
		}
		p.line("scale", p.axis.Left(), base, p.axis.Right(), base)
		return height
	})
}
