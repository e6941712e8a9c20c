package audit

import (
	"math"
	"strings"

	"hotday/models"
)

var moneyRules = []Rule{
	{"money.expected", "Drinks sold and missed are the demand; the parts of the cost are the total.", expectedSums},
	{"money.demand", "The demand of the simulated days is that of the plan's rows.", expectedDemand},
	{"money.fixes", "A warning has at most three fixes, each of which changes something and none that makes it worse.", fixes},
	{"money.one_line", "One line a cause: no two warnings of one kind about one thing on one day.", oneLine},
}

func expectedSums(p *Papers, report report) {
	e := p.plan.Expected
	if e == nil {
		report("expected", "not stated")
		return
	}
	if !near(e.Sold+e.Missed, e.Demanded, 0.1, 1e-3) {
		report("expected", "%.1f sold + %.1f missed is not %.1f", e.Sold, e.Missed, e.Demanded)
	}
	for what, rows := range map[string][]expectedDrink{"days": e.Days, "drinks": e.Drinks} {
		var d, s, m float64
		for _, x := range rows {
			d, s, m = d+x.Demanded, s+x.Sold, m+x.Missed
			if !near(x.Sold+x.Missed, x.Demanded, 0.1, 1e-3) {
				report("expected."+what, "%s%s: %.1f sold + %.1f missed is not %.1f", x.Date, x.Drink, x.Sold, x.Missed, x.Demanded)
			}
		}
		if !near(d, e.Demanded, 0.2, 2e-3) || !near(s, e.Sold, 0.2, 2e-3) || !near(m, e.Missed, 0.2, 2e-3) {
			report("expected."+what, "add up to %.1f, %.1f sold, %.1f missed, in all %.1f, %.1f, %.1f", d, s, m, e.Demanded, e.Sold, e.Missed)
		}
	}
	g, cost := 0.0, 0.0
	for _, x := range e.PouredAway {
		g += x.G
		cost += x.Cost
	}
	if !near(g, e.PouredAwayG, 1, 1e-3) || !near(cost, e.Cost.PouredAway, 1, 1e-3) {
		report("expected.poured_away", "%.0f g for %.0f, in all %.0f g for %.0f", g, cost, e.PouredAwayG, e.Cost.PouredAway)
	}
	c := &e.Cost
	if sum := c.Brewing + c.Aging + c.PouredAway + c.MissedSales + c.IceBought; !near(sum, c.Total, 1, 1e-3) {
		report("expected.cost", "parts are %.0f, total %.0f", sum, c.Total)
	}
}

func expectedDemand(p *Papers, report report) {
	if p.plan.Expected == nil {
		return
	}
	mean := 0.0
	for _, d := range p.plan.Demand {
		mean += d.Mean
	}
	// Tests simulate few days: the mean of a few dozen scatters.
	if !near(mean, p.plan.Expected.Demanded, 5+3*math.Sqrt(mean), 0.3) {
		report("expected", "%.1f drinks demanded, the rows expect %.1f", p.plan.Expected.Demanded, mean)
	}
}

const mostFixes = 3

func fixes(p *Papers, report report) {
	for _, w := range p.plan.Warnings {
		if len(w.Fixes) > mostFixes {
			report(w.Kind+" "+w.Subject, "%d fixes", len(w.Fixes))
		}
		for _, f := range w.Fixes {
			same := f.Effect.ChancePct >= w.ChancePct-0.5 && f.Effect.Amount >= w.Amount*0.99-1e-9
			switch {
			case f.Effect.ChancePct > w.ChancePct+0.5 && f.Effect.Amount > w.Amount*1.01:
				report(w.Kind+" "+w.Subject, "%q makes it worse", f.Action)
			case same && f.Cost > 0.5:
				report(w.Kind+" "+w.Subject, "%q costs %.0f and changes nothing", f.Action, f.Cost)
			case same && math.Abs(f.Cost) <= 0.5:
				report(w.Kind+" "+w.Subject, "%q changes nothing", f.Action)
			}
		}
	}
}

// about is the part of the request that a warning is about: "ice.plain" of ice.plain.bin_g, "ice.makers.0" of a field of a machine.
func (w *warning) about() string {
	if len(w.Fields) == 0 {
		return ""
	}
	parts := strings.Split(w.Fields[0], ".")
	n := min(2, len(parts))
	if len(parts) > 2 && strings.Trim(parts[2], "0123456789") == "" {
		n = 3
	}
	return strings.Join(parts[:n], ".")
}

func oneLine(p *Papers, report report) {
	type key struct {
		kind, subject string
		day           models.Date
		rule, about   string
	}
	seen := map[key]string{}
	for _, w := range p.plan.Warnings {
		k := key{w.Kind, w.Subject, p.request.Site.ServiceDayOf(w.At), w.Rule, w.about()}
		if first, ok := seen[k]; ok {
			report(w.Kind+" "+w.Subject, "twice on %s: %q and %q", k.day, first, w.Cause)
		}
		seen[k] = w.Cause
	}
}
