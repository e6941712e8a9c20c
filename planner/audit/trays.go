package audit

import (
	"time"

	"hotday/models"
)

var trayRules = []Rule{
	{"trays.freeze", "Trays are emptied before they are filled again, and not before their ice is frozen.", traysFreeze},
	{"trays.small", "No load is below 1 kg except at opening and closing.", traysSmall},
	{"trays.one_task", "Emptying trays and filling them again is one task.", traysOneTask},
	{"trays.there", "Trays are filled and emptied when somebody is there.", traysThere},
}

// loads returns the loads of each tray set.
func (p *Papers) loads() map[string][]models.IceLoad {
	out := map[string][]models.IceLoad{}
	for i := range p.plan.Ice.Quotas {
		if q := &p.plan.Ice.Quotas[i]; p.mould(q.Maker) != nil {
			out[q.Maker] = append(out[q.Maker], q.Loads...)
		}
	}
	return out
}

func traysFreeze(p *Papers, report report) {
	for code, loads := range p.loads() {
		m := p.mould(code)
		least := models.Minutes(plankMin(m))
		for _, l := range loads {
			if took := l.TakeAt.Sub(l.FillAt); took < least-time.Second {
				report(code, "filled at %s and emptied at %s; it takes %s to freeze at least", p.clock(l.FillAt), p.clock(l.TakeAt), least.Round(time.Minute))
			}
			n := 0
			for _, o := range loads {
				if !o.FillAt.After(l.FillAt) && l.FillAt.Before(o.TakeAt) {
					n++
				}
			}
			if n > m.LoadsAtOnce {
				report(code, "%d loads in it at %s, of %d at once", n, p.clock(l.FillAt), m.LoadsAtOnce)
			}
			if l.G > m.LoadG+1 {
				report(code, "a load of %.0f g, it holds %.0f g", l.G, m.LoadG)
			}
		}
	}
}

// leastLoadG is the least ice that people empty trays for during the day, g.
const leastLoadG = 1000

func traysSmall(p *Papers, report report) {
	for code, loads := range p.loads() {
		at := map[int64]float64{}
		for _, l := range loads {
			if l.FillAt.After(p.plan.ComputedAt) { // one that freezes already is emptied as it is
				at[l.TakeAt.Unix()] += l.G
			}
		}
		for unix, g := range at {
			if t := time.Unix(unix, 0); g < leastLoadG-1 && !p.atEdge(t) {
				report(code, "%.0f g emptied at %s", g, p.clock(t))
			}
		}
	}
}

func traysOneTask(p *Papers, report report) {
	type key struct {
		station string
		at      int64
	}
	emptied := map[key]bool{}
	for _, t := range p.tasks {
		if t.Kind == models.TaskIceTake && t.State == models.Due {
			emptied[key{t.Station, t.At.Unix()}] = true
		}
	}
	for _, t := range p.tasks {
		if t.Kind == models.TaskIceFill && t.State == models.Due && emptied[key{t.Station, t.At.Unix()}] {
			report(t.ID, "emptied and filled at %s by two tasks", p.clock(t.At))
		}
	}
}

func traysThere(p *Papers, report report) {
	for code, loads := range p.loads() {
		for _, l := range loads {
			if l.FillAt.After(p.plan.ComputedAt) && !p.there(l.FillAt, l.FillAt) {
				report(code, "filled at %s, when nobody is there", p.clock(l.FillAt))
			}
			if !p.there(l.TakeAt, l.TakeAt) {
				report(code, "emptied at %s, when nobody is there", p.clock(l.TakeAt))
			}
		}
	}
}
