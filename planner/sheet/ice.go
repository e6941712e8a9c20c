package sheet

import (
	"math"
	"slices"
	"strconv"
	"time"

	"hotday/models"
)

// heavyG is a lift that takes two people, g.
const heavyG = 20_000

// ice adds the tasks about ice: emptying and filling trays, looks into the ice bins, and refilling the wells at the bar.
func (w *sheetWriter) ice() {
	w.trays()
	w.checks()
	w.wells()
}

// trayVisit is a walk to a set of trays: loads to empty, and loads to fill.
type trayVisit struct {
	at              time.Time
	emptied, filled []trayLoad
}

// trayLoad is one filling of a set of trays with the quota that it counts towards.
type trayLoad struct {
	models.IceLoad
	quota *models.IceQuota
}

func (v *trayVisit) kind() string {
	switch {
	case len(v.emptied) == 0:
		return models.TaskIceFill
	case len(v.filled) == 0:
		return models.TaskIceTake
	}
	return models.TaskIceRefill
}

// trays adds the visits to each set of trays. What was filled before the plan was made is not asked for again.
func (w *sheetWriter) trays() {
	visits := map[taskGroup][]*trayVisit{}
	var order []taskGroup
	for _, set := range w.traySets() {
		for _, v := range w.visits(set) {
			s := taskGroup{w.dateOf(v.at), set, v.kind(), "load"}
			if visits[s] == nil {
				order = append(order, s)
			}
			visits[s] = append(visits[s], v)
		}
	}
	for _, s := range order {
		list := visits[s]
		times := make([]time.Time, len(list))
		for i, v := range list {
			times[i] = v.at
		}
		for i, n := range w.numbers(s, times, make([]int, len(list))) {
			w.visit(s, n, list[i])
		}
	}
}

// traySets are the sets with loads in the plan, in its order.
func (w *sheetWriter) traySets() (out []string) {
	for i := range w.plan.Ice.Quotas {
		if q := &w.plan.Ice.Quotas[i]; len(q.Loads) > 0 && !slices.Contains(out, q.Maker) {
			out = append(out, q.Maker)
		}
	}
	return out
}

// visits are the walks to a set of trays in order of time. Loads due at the same time are one visit.
func (w *sheetWriter) visits(set string) (out []*trayVisit) {
	at := func(t time.Time) *trayVisit {
		if k := slices.IndexFunc(out, func(v *trayVisit) bool { return v.at.Equal(t) }); k >= 0 {
			return out[k]
		}
		v := &trayVisit{at: t}
		out = append(out, v)
		return v
	}
	for i := range w.plan.Ice.Quotas {
		q := &w.plan.Ice.Quotas[i]
		if q.Maker != set {
			continue
		}
		for _, l := range q.Loads {
			if !l.FillAt.Before(w.plan.ComputedAt) {
				v := at(l.FillAt)
				v.filled = append(v.filled, trayLoad{l, q})
			}
			v := at(l.TakeAt)
			v.emptied = append(v.emptied, trayLoad{l, q})
		}
	}
	slices.SortStableFunc(out, func(a, b *trayVisit) int { return a.at.Compare(b.at) })
	return out
}

// bathTrays reports whether a set of trays makes ice for baths, not for drinks.
func (w *sheetWriter) bathTrays(code string) bool {
	return slices.ContainsFunc(w.req.Ice.Moulds, func(m models.MouldSet) bool { return m.Code == code && !m.Treated })
}

func (w *sheetWriter) visit(s taskGroup, n int, v *trayVisit) {
	out, in := sumG(v.emptied), sumG(v.filled)
	own := slices.Concat(v.emptied, v.filled)
	quota := *own[0].quota
	quota.Loads = make([]models.IceLoad, 0, len(own))
	for _, l := range own {
		quota.Loads = append(quota.Loads, l.IceLoad)
	}
	t := models.Task{ID: w.idIn(s, n), At: v.at, Until: v.at.Add(models.Minutes(w.req.Site.Work().Tray)), Hands: handsFor(max(out, in)), Station: s.station,
		Kind: s.kind, State: models.Due, Quota: &quota}
	bath := ""
	if w.bathTrays(s.station) {
		bath = "_bath"
	}
	t.Say = w.Say("ice."+s.kind+bath, "mould", s.station, "out", w.GlanceMass(out), "in", w.GlanceMass(in))
	part := w.partName(own[0].quota.DayPart)
	if len(v.emptied) > 0 {
		t.Why = w.Say("ice.why_empty", "part", part)
	} else {
		t.Why = w.Say("ice.why_fill", "take", w.Moment(v.filled[0].TakeAt, v.at), "part", part)
	}
	switch {
	case bath != "":
		w.caution(&t, models.CautionBathIce)
	case s.kind == models.TaskIceFill:
		w.caution(&t, models.CautionFreezer)
	case s.kind == models.TaskIceTake:
		w.caution(&t, models.CautionIceFood)
	default:
		w.caution(&t, models.CautionIceFood, models.CautionFreezer)
	}
	w.put(s.date, t)
}

func sumG(list []trayLoad) (g float64) {
	for _, l := range list {
		g += l.G
	}
	return g
}

// handsFor is how many people a lift of g g takes.
func handsFor(g float64) int {
	if g > heavyG {
		return 2
	}
	return 1
}

func (w *sheetWriter) partName(code string) string { return w.Say("sheet.part", "part", code) }

// stationBin is the station of looks into an ice bin that several machines fill.
const stationBin = "ice bin"

// checks adds the looks into the ice bins, one for a bin and time however many machines fill it.
func (w *sheetWriter) checks() {
	groups := map[taskGroup][]models.IceQuota{}
	var order []taskGroup
	for _, q := range w.plan.Ice.Checks {
		station, subject := q.Maker, "bin"
		if len(q.Makers) > 1 {
			station = stationBin
		}
		if q.BathIce {
			subject = "bath-bin"
		}
		s := taskGroup{w.dateOf(q.Due), station, models.TaskIceCheck, subject}
		if groups[s] == nil {
			order = append(order, s)
		}
		groups[s] = append(groups[s], q)
	}
	for _, s := range order {
		list := groups[s]
		times := make([]time.Time, len(list))
		for i, q := range list {
			times[i] = q.Due
		}
		for i, n := range w.numbers(s, times, make([]int, len(list))) {
			w.check(s, n, list[i])
		}
	}
}

func (w *sheetWriter) check(s taskGroup, n int, q models.IceQuota) {
	t := models.Task{ID: w.idIn(s, n), At: q.Due, Until: q.Due.Add(models.Minutes(w.req.Site.Work().Count)), Hands: 1, Station: s.station,
		Kind: models.TaskIceCheck, State: models.Due, Quota: &q}
	bath, care := "", models.CautionIceFood
	if q.BathIce {
		bath, care = "_bath", models.CautionBathIce
	}
	t.Say = w.Say("ice.check"+bath, "level", w.Say("ice.level."+strconv.Itoa(min(max(q.Quarters, 1), 4))), "mass", w.GlanceMass(q.LevelG), "below", w.ifBelow(&q))
	t.Why = w.Say("ice.why_check" + bath)
	w.caution(&t, care)
	w.put(s.date, t)
}

// ifBelow says what to do if there is less ice than that: buy bags while that can still be ordered, else ring the manager. The bags make up
// for up to a quarter of the bin, which is as far as the eye can tell.
func (w *sheetWriter) ifBelow(q *models.IceQuota) string {
	b := w.req.Ice.Bought
	if b == nil {
		return w.Say("ice.below_ring")
	}
	short := q.LevelG - float64(q.Quarters-1)*q.BinG/4
	n, bag := max(1, int(math.Ceil(short/b.BagG-1e-9))), w.GlanceMass(b.BagG)
	if b.OrderBy == "" {
		return w.Say("ice.below_buy", "n", n, "bag", bag, "by", "")
	}
	by := models.DateOf(q.Due, w.req.Site.Location()).At(b.OrderBy.Minutes(), w.req.Site.Location())
	if by.Before(q.Due) {
		return w.Say("ice.below_ring")
	}
	return w.Say("ice.below_buy", "n", n, "bag", bag, "by", w.Say("ice.buy_by", "at", w.Clock(by)))
}

// wells adds the ice to carry to the wells at the bar.
func (w *sheetWriter) wells() {
	groups := map[taskGroup][]models.WellFill{}
	var order []taskGroup
	for _, f := range w.plan.Ice.WellFills {
		s := taskGroup{w.dateOf(f.At), f.Well, models.TaskGet, "ice"}
		if groups[s] == nil {
			order = append(order, s)
		}
		groups[s] = append(groups[s], f)
	}
	for _, s := range order {
		list := groups[s]
		times := make([]time.Time, len(list))
		for i, f := range list {
			times[i] = f.At
		}
		for i, n := range w.numbers(s, times, make([]int, len(list))) {
			w.wellFill(s, n, list[i])
		}
	}
}

func (w *sheetWriter) wellFill(s taskGroup, n int, f models.WellFill) {
	carry := 5.0 // the default of carry_min, where the set-up no longer has the well
	if k := slices.IndexFunc(w.req.Site.IceWells, func(x models.IceWell) bool { return x.Code == f.Well }); k >= 0 {
		carry = w.req.Site.IceWells[k].CarryMin
	}
	t := models.Task{ID: w.idIn(s, n), At: f.At, Until: f.At.Add(models.Minutes(carry)), Hands: handsFor(f.G), Station: f.Well, Kind: models.TaskGet,
		State: models.Due, Well: &f, Say: w.Say("ice.well", "well", f.Well, "mass", w.GlanceMass(f.G)), Why: w.Say("ice.why_well")}
	w.caution(&t, models.CautionIceFood)
	w.put(s.date, t)
}

// bathStep says how a batch is cooled in its ice bath.
func (w wording) bathStep(b *models.BatchTask, toC float64) string {
	key := "ice.bath_top"
	if b.BathWaterL > 0 {
		key = "ice.bath_fill"
	}
	step := w.Say(key, "temp", w.Temp(toC), "ice", w.GlanceMass(b.BathIceG), "water", w.Volume(b.BathWaterL))
	if b.BathFromDrinksG > 0 {
		step += w.Say("ice.bath_from_drinks", "ice", w.GlanceMass(b.BathFromDrinksG))
	}
	return step
}
