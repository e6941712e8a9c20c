package web

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/sheet"
)

// pairWithin is how far apart two tasks may be due that two people do at the same time.
const pairWithin = 3 * time.Hour

// pairTasks says how many people prep now, and which tasks two of them can do at the same time.
func (v *kitchenView) pairTasks(site models.Site, sheets []models.PrepSheet, plan *models.Plan) {
	v.People = peopleAtPrep(site, plan, v.Now)
	if v.People < 2 {
		return
	}
	byID := map[string]*models.Task{}
	for i := range sheets {
		for k := range sheets[i].Tasks {
			byID[sheets[i].Tasks[k].ID] = &sheets[i].Tasks[k]
		}
	}
	near := func(t *kitchenTask) bool { return t.open(v.Now) && t.At.Before(v.Now.Add(pairWithin)) }
	for i := range v.Tasks {
		a := &v.Tasks[i]
		if !near(a) {
			continue
		}
		var with []string
		for k := range v.Tasks {
			if b := &v.Tasks[k]; near(b) && sheet.SameTime(byID[a.ID], byID[b.ID]) {
				with = append(with, b.ID)
			}
		}
		a.With = strings.Join(with, " ")
	}
}

// peopleAtPrep is how many of the people on shift prep at an instant, at least 1: those that serving the drinks expected leaves, by the plan's
// half hours. A plan made within a half hour has only the rest of it, so that shares count, not minutes.
func peopleAtPrep(site models.Site, plan *models.Plan, now time.Time) int {
	today := site.ServiceDayOf(now)
	onShift := models.OnShiftAt(append(site.Shifts(today), site.Shifts(today.AddDays(-1))...), now)
	for _, h := range plan.Hands {
		if !now.Before(h.At) && now.Before(h.At.Add(30*time.Minute)) && h.OnShift > 0 {
			return max(1, int(math.Floor(onShift*h.FreeMin/(30*h.OnShift)+1e-9)))
		}
	}
	return 1
}

// countIce offers to count the ice for drinks, and shows today's latest count.
func (v *kitchenView) countIce(ctx context.Context, s models.Store, setup models.Setup, plan models.Plan) error {
	if !v.MayMark {
		return nil
	}
	x := stockExpected{PlanRequest: models.PlanRequest{Setup: setup}, plan: plan, at: v.Now}
	if _, planned := x.ice(); !planned {
		var err error
		if x, err = expectedStock(ctx, s, setup.Site.Code, v.Now); err != nil {
			return err
		}
	}
	c := countView{head: v.head, Now: v.Now}
	c.addIce(x)
	c.Items = c.Items[:1]
	err := c.addCounts(ctx, s, setup.Site)
	v.Ice = c.Items[0]
	return err
}

// breakable is a kind of equipment that somebody reports as out of order with one touch and confirms with a second.
type breakable struct {
	ID, Say, Ask string
	Machines     []machineView
}

type machineView struct{ Kind, Code, Say string }

// downView is equipment that is out of order now, with what to do first.
type downView struct {
	Kind, Code, Say, First string
	Recent                 bool // it can be undone as a mistake
}

// listOutages lists the equipment that is out of order now and that which can be reported.
func (v *kitchenView) listOutages(ctx context.Context, s models.Store, setup models.Setup, plan *models.Plan, open []models.OpenWarning) error {
	q := v.voice
	list, err := s.Outages(ctx, setup.Site.Code, v.Now, v.Now.Add(clockSlack))
	if err != nil {
		return err
	}
	down := map[string]bool{}
	for _, o := range list {
		if o.From.After(v.Now.Add(time.Minute)) || o.Kind != models.OutageMaker && o.Kind != models.OutageBrewer || down[o.Kind+o.Code] {
			continue
		}
		down[o.Kind+o.Code] = true
		v.Down = append(v.Down, downView{Kind: o.Kind, Code: o.Code, Recent: v.Now.Sub(o.From) < models.OutageMistake,
			Say:   q.Say("kitchen.down_since", "what", o.Code, "when", q.Near(o.From, v.Now)),
			First: v.doFirst(o, setup, plan, open)})
	}
	machines := func(kind, id, say, ask, one string, codes []string) {
		codes = slices.DeleteFunc(codes, func(code string) bool { return down[kind+code] })
		if len(codes) == 0 {
			return
		}
		b := breakable{ID: id, Say: say, Ask: ask}
		for _, code := range codes {
			b.Machines = append(b.Machines, machineView{kind, code, q.Say("kitchen.machine_down", "what", code)})
		}
		if len(codes) == 1 {
			b.Ask = one
		}
		v.Breakable = append(v.Breakable, b)
	}
	var makers, brewers []string
	for _, m := range setup.Ice.Makers {
		makers = append(makers, m.Code)
	}
	for _, b := range setup.Brewers {
		brewers = append(brewers, b.Code)
	}
	machines(models.OutageMaker, "broken-maker", q.Say("kitchen.maker_down"), q.Say("kitchen.which_maker"), q.Say("kitchen.sure_down"), makers)
	machines(models.OutageBrewer, "broken-brewer", q.Say("kitchen.brewer_down"), q.Say("kitchen.which_brewer"), q.Say("kitchen.sure_down"), brewers)
	return nil
}

// doFirst says what to do first about equipment that is out of order: by the plan made since, or what is right in any case.
func (v *kitchenView) doFirst(o models.Outage, setup models.Setup, plan *models.Plan, open []models.OpenWarning) string {
	q := v.voice
	replanned := !plan.ComputedAt.Before(o.From)
	var worst *models.OpenWarning
	for i := range open {
		w := &open[i]
		about := o.Kind == models.OutageMaker && w.Kind == models.WarnIceShort || o.Kind == models.OutageBrewer && (w.Kind == models.WarnBeverageShort || w.Kind == models.WarnBrewerOverrun)
		if w.Grade == models.GradeNote || !about || w.SeenAt.Before(o.From) {
			continue
		}
		replanned = true
		if len(w.Fixes) > 0 && (worst == nil || slices.Index(gradeOrder, w.Grade) < slices.Index(gradeOrder, worst.Grade)) {
			worst = w
		}
	}
	switch {
	case worst != nil:
		return q.Say("kitchen.first", "action", worst.Fixes[0].Action)
	case !replanned && o.Kind == models.OutageMaker:
		return q.Say("kitchen.first_maker")
	case !replanned:
		return q.Say("kitchen.first_brewer")
	case o.Kind == models.OutageBrewer:
		for _, b := range plan.Batches {
			if b.State == models.Due && b.Start.After(v.Now) {
				return q.Say("kitchen.next_brew", "beverage", beverageName(setup.Beverages, b.Beverage), "brewer", b.Brewer, "when", q.Near(b.Start, v.Now))
			}
		}
	}
	return q.Say("kitchen.still_enough")
}

// saleView is a drink to take off sale, or one that is off sale.
type saleView struct {
	Drink, From, Say string // From: RFC 3339
}

// stopSoon is how far ahead the wall says what to take off sale.
const stopSoon = 4 * time.Hour

// listOffSale lists the drinks that are off sale, and those that the plan says to take off sale soon.
func (v *kitchenView) listOffSale(ctx context.Context, s models.Store, setup models.Setup, plan *models.Plan) error {
	q, name := v.voice, drinkNames(setup.Drinks)
	today := setup.Site.ServiceDayOf(v.Now)
	list, err := s.OffSale(ctx, setup.Site.Code, v.Now, setup.Site.DayEnd(today))
	if err != nil {
		return err
	}
	off := map[string]bool{}
	for _, o := range list {
		off[o.Drink] = true
		x := saleView{Drink: o.Drink, From: o.From.UTC().Format(time.RFC3339Nano),
			Say: q.Say("kitchen.off_since", "drink", name(o.Drink), "when", q.Near(o.From, v.Now))}
		if o.From.After(v.Now.Add(clockSlack)) {
			x.Say = q.Say("kitchen.off_from", "drink", name(o.Drink), "when", q.Near(o.From, v.Now))
		}
		v.OffSale = append(v.OffSale, x)
	}
	for _, a := range plan.OffSale {
		if a.Date == today && !off[a.Drink] && a.From.Before(v.Now.Add(stopSoon)) {
			off[a.Drink] = true
			v.StopSelling = append(v.StopSelling, saleView{Drink: a.Drink, From: models.Later(a.From, v.Now).UTC().Format(time.RFC3339Nano), Say: a.Say})
		}
	}
	return nil
}

// delayMinutes are the delays that the wall offers.
var delayMinutes = []float64{10, 20, 30}

// delayChoice is a delay with what it moves.
type delayChoice struct {
	Minutes float64
	Say     string
}

// delayReport is a delay that was reported lately.
type delayReport struct {
	Key, Date, Say string
	Stays          []string
}

// previewDelays says what each delay would change on today's sheet, and shows the latest one.
func (v *kitchenView) previewDelays(sheets []models.PrepSheet, setup models.Setup) {
	today := setup.Site.ServiceDayOf(v.Now)
	i := slices.IndexFunc(sheets, func(s models.PrepSheet) bool { return s.Date == today })
	if i < 0 {
		return
	}
	s := sheets[i]
	for _, m := range delayMinutes {
		after := sheet.Delayed(s, setup, models.Delay{Minutes: m, At: v.Now})
		v.Delays = append(v.Delays, delayChoice{m, v.voice.Say("kitchen.behind_moves", "n", sheet.Moved(s, after))})
		for _, stays := range after.Changes[1:] {
			if !slices.Contains(v.Stays, stays) {
				v.Stays = append(v.Stays, stays)
			}
		}
	}
	if n := len(s.Delays); n > 0 && v.Now.Sub(s.Delays[n-1].At) < models.DelayUndo && len(s.Changes) > 0 && !s.PublishedAt.After(s.Delays[n-1].At) {
		v.Delayed = &delayReport{Key: s.Delays[n-1].Key, Date: string(s.Date), Say: s.Changes[0], Stays: s.Changes[1:]}
	}
}
