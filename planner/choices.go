package planner

import (
	"cmp"
	"context"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/risk"
)

// choice is a batch of the schedule whose size is left to the day: when somebody looks at how much of its beverage is left, it is
// brewed as planned, smaller, or not at all. It is brewed as planned if nobody looks, so that its water, ice and beans are there.
type choice struct {
	batch   batch.Start
	slot    int       // of the look
	options []amounts // falling size, the first the batch's own; of g 0 for none
	below   []float64 // g of the beverage left, rising: below it the option is taken; the last option has none
	taken   []float64 // share of the simulated days by option
	saves   float64   // minor units, expected
}

// What a choice must be worth.
const (
	mostChoicesADay = 3
	// A choice is work for people, so it must save this share of its day's expected cost.
	choiceEarns = 0.01
	// An option taken on fewer days than this share is not worth a line on the sheet.
	seldomTaken = 0.03
	// The first option is brewed if nobody looks, so it must be the right one fairly often.
	firstTaken = 0.1
	// A choice of the plan before keeps its figures where others save no more than this share of the day's cost.
	choiceStays = 0.005
	// The day must have shown something, and a batch must have some time to sell.
	lookAfter, sellsFor = 90 * time.Minute, 45 * time.Minute
	// Looks no further apart than this become one, where the later choice still saves this share.
	oneLook    = time.Hour
	stillSaves = 0.8
	// choiceSeed is that of the days on which choices are made, apart from those that evaluate the plan.
	choiceSeed  = 104729
	mostToFit   = 200 // of those days, for 1,000 Monte Carlo days
	fewestToFit = 80
	fitOfDays   = 5
)

// choose leaves the last batch of each beverage on each day to the day, where that saves enough on simulated days. With sizes, such a
// batch may become larger, and one more may be added, since what need not be brewed may be planned more amply.
func (bp *brewPlan) choose(ctx context.Context, sizes bool) error {
	bp.choices = nil
	groups := bp.choosable(sizes)
	for k := len(groups) - 1; k >= 0; k-- { // later choices first: an earlier one knows what follows
		if !bp.mayChoose(&groups[k][0]) {
			continue
		}
		if err := bp.chooseOf(ctx, groups[k], sizes); err != nil {
			return err
		}
	}
	slices.SortStableFunc(bp.choices, func(a, b choice) int {
		return cmp.Or(cmp.Compare(a.slot, b.slot), cmp.Compare(a.batch.StartSlot, b.batch.StartSlot))
	})
	return bp.lookOnce(ctx)
}

// lookOnce makes looks that are close to each other one, at the time of the first, where the later choice still saves most of what it did.
func (bp *brewPlan) lookOnce(ctx context.Context) error {
	for i := 1; i < len(bp.choices); i++ {
		c := bp.choices[i]
		before := bp.choices[i-1].slot
		if c.slot == before || c.slot-before > int(oneLook/bp.h.slot) || bp.h.dayOf(c.slot) != bp.h.dayOf(before) {
			continue
		}
		x := leftToDay{batch: c.batch, option: bp.optionOf(c.batch), slot: before}
		rest := slices.Delete(slices.Clone(bp.choices), i, i+1)
		all := bp.choices
		bp.choices = rest
		seen, costs, err := bp.trialsOf(ctx, &x, c.options)
		bp.choices = all
		if err != nil {
			return err
		}
		if seen == nil {
			continue
		}
		was := c.saves
		c.slot, c.options = before, slices.Clone(c.options)
		if bp.decideBy(&c, seen, costs, 0) && c.saves >= stillSaves*was {
			bp.choices[i] = c
		}
	}
	return nil
}

// fitDays are the days on which choices are made.
func (bp *brewPlan) fitDays() *risk.Days {
	if bp.fits == nil {
		bp.fits = risk.Draw(bp.req.Seed+choiceSeed, min(max(bp.days()/fitOfDays, fewestToFit), mostToFit))
	}
	return bp.fits
}

// mayChoose reports whether one more look fits into its day, which has none at the same beverage yet.
func (bp *brewPlan) mayChoose(x *leftToDay) bool {
	n, day := 0, bp.h.dayOf(x.slot)
	for i := range bp.choices {
		if c := &bp.choices[i]; bp.h.dayOf(c.slot) == day {
			if n++; c.batch.Beverage == x.batch.Beverage {
				return false
			}
		}
	}
	return n < mostChoicesADay
}

// leftToDay is a batch that may be left to the day: one of the schedule, or with G of 0 one that may be added.
type leftToDay struct {
	batch  batch.Start
	option int
	slot   int         // of the look
	less   batch.Start // a batch before it that becomes smaller instead, down to lessG; G of 0: none
	lessG  float64
}

// choosable lists the batches that may be left to the day, for each beverage on each planned day, in order of the look: the last one, if it
// begins when the shop has been open for a while, and with more, one after it.
func (bp *brewPlan) choosable(more bool) [][]leftToDay {
	type key struct{ day, bev int }
	last := map[key]*planned{}
	for i := range bp.batches {
		p := &bp.batches[i]
		at := bp.h.at(p.slot)
		k := key{bp.h.dayOf(p.slot), bp.options[p.option].bev}
		if date := bp.req.Site.ServiceDayOf(at); date < bp.req.From || bp.answered(k.bev, at) {
			continue
		}
		if was := last[k]; was == nil || was.slot < p.slot {
			last[k] = p
		}
	}
	var out [][]leftToDay
	for _, p := range last {
		s := batch.Start{Brewer: bp.req.Brewers[bp.options[p.option].brewer].Code, Beverage: bp.req.Beverages[bp.options[p.option].bev].Code, StartSlot: p.slot, G: p.g}
		var group []leftToDay
		if bp.showsDay(p.slot) {
			group = append(group, leftToDay{batch: s, option: p.option, slot: p.slot})
		}
		if more {
			group = append(group, bp.oneMore(s)...)
		}
		if len(group) > 0 {
			out = append(out, group)
		}
	}
	slices.SortFunc(out, func(a, b []leftToDay) int {
		return cmp.Or(cmp.Compare(a[0].slot, b[0].slot), cmp.Compare(a[0].batch.Beverage, b[0].batch.Beverage))
	})
	return out
}

// moreAfter is how long after the last batch of a beverage one more may begin.
const moreAfter = 2 * time.Hour

// lessShares are the shares of its size to which the last batch may shrink where one more is left to the day.
var lessShares = []float64{0.5}

// oneMore returns batches that may be added on the day of the last batch of a beverage, one for each brewer.
func (bp *brewPlan) oneMore(last batch.Start) []leftToDay {
	var out []leftToDay
	date := bp.req.Site.ServiceDayOf(bp.h.at(last.StartSlot))
	for k := range bp.options {
		o := &bp.options[k]
		slot := last.StartSlot + int(moreAfter/bp.h.slot)
		for slot < bp.h.n && !bp.showsDay(slot) && bp.h.dayOf(slot) == bp.h.dayOf(last.StartSlot) {
			slot++
		}
		if o.bev != bp.bevIndex[last.Beverage] || slot >= bp.h.n || !o.may[slot] || bp.req.Site.ServiceDayOf(bp.h.at(slot)) != date || !bp.sellsAfter(slot+o.readySlots, date) {
			continue
		}
		x := leftToDay{batch: batch.Start{Brewer: bp.req.Brewers[o.brewer].Code, Beverage: last.Beverage, StartSlot: slot}, option: k, slot: slot}
		out = append(out, x)
		for _, share := range lessShares {
			if g := bp.options[bp.optionOf(last)].nearest(share * last.G).g; g < last.G {
				x.less, x.lessG = last, g
				out = append(out, x)
			}
		}
	}
	return out
}

// showsDay reports whether the shop has been open for a while in a slot, so that its stock says something about the day.
func (bp *brewPlan) showsDay(slot int) bool {
	at := bp.h.at(slot)
	return slices.ContainsFunc(bp.req.Site.OpenSpans(bp.req.Site.ServiceDayOf(at)), func(o models.Span) bool {
		return !at.Before(o.From.Add(lookAfter)) && !at.After(o.To)
	})
}

// sellsAfter reports whether a beverage that is ready in a slot can be sold on the same day for some time.
func (bp *brewPlan) sellsAfter(ready int, date models.Date) bool {
	return slices.ContainsFunc(bp.req.Site.OpenSpans(date), func(o models.Span) bool { return !bp.h.at(ready).Add(sellsFor).After(o.To) })
}

// sizesOf lists the sizes that a batch left to the day may be planned in, its own first.
func (bp *brewPlan) sizesOf(x *leftToDay, more bool) []amounts {
	o := &bp.options[x.option]
	var out []amounts
	add := func(g float64) {
		if a := o.nearest(g); !slices.ContainsFunc(out, func(b amounts) bool { return b.g == a.g }) {
			out = append(out, *a)
		}
	}
	if x.batch.G > 0 {
		add(x.batch.G)
	}
	if more {
		add(x.batch.G / 2)
		add(max(1.5*x.batch.G, o.hi/2))
		add(o.hi)
	}
	return out
}

// smaller lists the options of a batch of a size: the size, about half of it, and none.
func (o *option) smaller(a *amounts) []amounts {
	out := []amounts{*a}
	if half := o.nearest(a.g / 2); half.g > 0.3*a.g && half.g < 0.75*a.g {
		out = append(out, *half)
	}
	return append(out, amounts{})
}

// offer is a choice that may be made, with its expected cost.
type offer struct {
	choice
	left *leftToDay
	cost float64
}

// chooseOf makes the best choice of a group on simulated days, with those in bp.choices decided as they say, and the schedule that goes
// with it. It makes none that saves too little of the expected cost of its day.
func (bp *brewPlan) chooseOf(ctx context.Context, group []leftToDay, more bool) error {
	in := bp.riskInput(nil)
	in.Prices = bp.prices()
	base, err := bp.fitDays().Simulate(ctx, in)
	if err != nil {
		return err
	}
	now, day := stat.Mean(base.Costs, nil), bp.dayCost(&base, bp.h.dayOf(group[0].batch.StartSlot))
	var offers []offer
	for i := range group {
		list, err := bp.offersOf(ctx, &group[i], more, now, day)
		if err != nil {
			return err
		}
		offers = append(offers, list...)
	}
	slices.SortStableFunc(offers, func(a, b offer) int { return cmp.Compare(a.cost, b.cost) })
	for i := range offers {
		ok, err := bp.plan(offers[i].left, &offers[i].batch)
		if err != nil {
			return err
		}
		if ok {
			bp.choices = append(bp.choices, offers[i].choice)
			return nil
		}
	}
	return nil
}

// offersOf works out the choices of a batch, one for each size that it may have, that cost less than the schedule as it is. now is the
// schedule's cost on the simulated days, day that of the service day.
func (bp *brewPlan) offersOf(ctx context.Context, x *leftToDay, more bool, now, day float64) ([]offer, error) {
	o := &bp.options[x.option]
	sizes := bp.sizesOf(x, more)
	var all []amounts
	for i := range sizes {
		for _, a := range o.smaller(&sizes[i]) {
			if !slices.ContainsFunc(all, func(b amounts) bool { return a.g == b.g }) {
				all = append(all, a)
			}
		}
	}
	seen, costs, err := bp.trialsOf(ctx, x, all)
	if err != nil || seen == nil {
		return nil, err
	}
	bev := bp.bevIndex[x.batch.Beverage]
	made := bp.makingCost(bev, x.option, x.batch.G) // that the schedule has and the trials' account counts
	if x.less.G > 0 {
		made += bp.makingCost(bev, bp.optionOf(x.less), x.less.G) - bp.makingCost(bev, bp.optionOf(x.less), x.lessG)
	}
	var out []offer
	for i := range sizes {
		c := choice{batch: x.batch, slot: x.slot, options: o.smaller(&sizes[i])}
		c.batch.G = sizes[i].g
		var by [][]float64
		for _, a := range c.options {
			by = append(by, costs[slices.IndexFunc(all, func(b amounts) bool { return a.g == b.g })])
		}
		if !bp.decideBy(&c, seen, by, day) {
			continue
		}
		ample := stat.Mean(by[0], nil) - made // if nobody looks
		cost := ample - c.saves
		own := c.batch.G == x.batch.G
		if now-cost < choiceEarns*day || !own && (cost+ample)/2 > now { // it must pay even if only half of the looks are answered
			continue
		}
		if own {
			cost -= sizeEarns * day // what is planned stays unless another size is clearly better
		}
		out = append(out, offer{c, x, cost})
	}
	return out, nil
}

// sizeEarns is the share of a day's expected cost that another size of a batch left to the day must save.
const sizeEarns = 0.003

// plan puts a batch that is left to the day into the schedule in a size, and reports whether there are brewers, hands, ice, water and
// beans for it.
func (bp *brewPlan) plan(x *leftToDay, is *batch.Start) (bool, error) {
	if x.batch == *is {
		return true, nil
	}
	before := slices.Clone(bp.result.Starts)
	starts := slices.DeleteFunc(slices.Clone(before), func(s batch.Start) bool { return sameBatch(&s, &x.batch) })
	for i := range starts {
		if x.less.G > 0 && sameBatch(&starts[i], &x.less) {
			starts[i].G = x.lessG
		}
	}
	starts = append(starts, *is)
	if !bp.possible(starts) {
		return false, nil
	}
	if err := bp.accept(starts); err != nil {
		return false, err
	}
	if err := bp.mend(); err != nil {
		return false, err
	}
	if len(bp.result.Starts) == len(starts) && slices.ContainsFunc(bp.result.Starts, func(s batch.Start) bool { return sameBatch(&s, is) }) {
		return true, nil
	}
	return false, bp.accept(before)
}

// decideBy sets the figures of a choice from what is seen and the cost of each option by day, and reports whether it is one.
func (bp *brewPlan) decideBy(c *choice, seen []float64, costs [][]float64, day float64) bool {
	edges := bp.edges(seen)
	fit := fitChoice(seen, costs, edges)
	for k := 1; k < len(costs); k++ { // without options that are hardly ever taken
		if fit.taken[k] < seldomTaken {
			costs, c.options = slices.Delete(costs, k, k+1), slices.Delete(c.options, k, k+1)
			fit = fitChoice(seen, costs, edges)
			k--
		}
	}
	if len(costs) < 2 || fit.taken[0] < firstTaken {
		return false
	}
	if was := bp.belowBefore(c); was != nil {
		if same := fitOf(seen, costs, was); same.cost <= fit.cost+choiceStays*day {
			fit = same
		}
	}
	c.saves = heldOutSaving(seen, costs, edges)
	c.taken, c.below = fit.taken, fit.below[:len(costs)-1]
	return true
}

// trialsOf simulates a batch that is left to the day in several sizes on the same days: what is seen, and the cost of each size by day.
// They are nil if the batch is no longer in the schedule.
func (bp *brewPlan) trialsOf(ctx context.Context, x *leftToDay, sizes []amounts) (seen []float64, costs [][]float64, err error) {
	in := bp.riskInput(nil)
	in.Prices = bp.prices()
	c := choice{batch: x.batch, slot: x.slot, options: sizes}
	if x.less.G > 0 {
		bev := bp.bevIndex[x.less.Beverage]
		lots := slices.Clone(in.Stocks[bev].Lots)
		k := bp.lotOf(&x.less)
		lots[k].G *= x.lessG / x.less.G
		lots[k].IceG *= x.lessG / x.less.G
		in.Stocks[bev].Lots = lots
	}
	if x.batch.G <= 0 {
		bp.addLot(&in, x)
	}
	if !bp.addChoice(&in, &c) {
		return nil, nil, nil
	}
	return bp.fitDays().Options(ctx, in, len(in.Choices)-1)
}

// lotOf is the place of a batch of the schedule among the lots of its beverage; −1 if it is not there.
func (bp *brewPlan) lotOf(b *batch.Start) int {
	return slices.IndexFunc(bp.lotsOf(bp.bevIndex[b.Beverage]), func(at int) bool {
		l := &bp.result.Lots[at]
		return l.Start >= 0 && sameBatch(&bp.result.Starts[l.Start], b)
	})
}

// addLot adds a batch that is not in the schedule to the simulation's input, as large as its brewer can make it.
func (bp *brewPlan) addLot(in *risk.Input, x *leftToDay) {
	o := &bp.options[x.option]
	largest := &o.sizes[len(o.sizes)-1]
	ready := x.batch.StartSlot + o.readySlots
	l := risk.Lot{G: largest.g, From: ready, Until: min(ready+bp.holdSlots(o.bev), bp.h.n), IceFlow: flowIce, IceG: largest.iceG, IceSlot: x.batch.StartSlot + o.iceSlots, Begun: x.batch.StartSlot}
	lots := &in.Stocks[o.bev].Lots
	*lots = append(slices.Clone(*lots), l)
}

// prices are the money of the simulation's account by run.
func (bp *brewPlan) prices() *risk.Prices {
	p := &risk.Prices{}
	for j := range bp.req.Drinks {
		p.Missed = append(p.Missed, bp.needs.missedCost(j, risk.Sales{Missed: 1}))
		p.NoIce = append(p.NoIce, bp.needs.missedCost(j, risk.Sales{Missed: 1, NoIce: 1}))
	}
	for b := range bp.req.Beverages {
		p.Disposal = append(p.Disposal, bp.needs.costs[b].disposal) // of what is left too, as in the critical ratio: nobody knows who will want it
	}
	return p
}

// dayCost is the expected cost of a service day: its batches, what is poured away of them, and missed sales.
func (bp *brewPlan) dayCost(r *risk.Result, d int) float64 {
	cost := 0.0
	for b := range bp.req.Beverages {
		c := &bp.needs.costs[b]
		for k, at := range bp.lotsOf(b) {
			l := &bp.result.Lots[at]
			if l.Start < 0 || bp.h.dayOf(l.ReadySlot) != d {
				continue
			}
			cost += bp.makingCost(b, bp.optionOf(bp.result.Starts[l.Start]), l.G) + c.disposal*r.LotLeft[b][k]
		}
	}
	for j, s := range r.Sales[d] {
		cost += bp.needs.missedCost(j, s)
	}
	return cost
}

// makingCost is the cost of a batch of g g: its labour and its beans.
func (bp *brewPlan) makingCost(bev, option int, g float64) float64 {
	if g <= 0 {
		return 0
	}
	return bp.req.Brewers[bp.options[option].brewer].BatchCost + bp.needs.costs[bev].unit*g
}

// addChoice adds a choice to the simulation's input; it reports whether its batch is there. A batch that is not in the schedule is the
// last lot of its beverage.
func (bp *brewPlan) addChoice(in *risk.Input, c *choice) bool {
	bev := bp.bevIndex[c.batch.Beverage]
	lots := in.Stocks[bev].Lots
	lot := bp.lotOf(&c.batch)
	if c.batch.G <= 0 {
		lot = len(lots) - 1
	}
	if lot < 0 {
		return false
	}
	x := risk.Choice{Stock: bev, Lot: lot, Slot: c.slot, Below: c.below, Costs: bp.optionCosts(c)}
	for i := range c.options {
		x.Shares = append(x.Shares, c.options[i].g/lots[lot].G)
	}
	in.Choices = append(in.Choices, x)
	return true
}

// optionCosts are the costs of making each option of a choice.
func (bp *brewPlan) optionCosts(c *choice) []float64 {
	bev, option := bp.bevIndex[c.batch.Beverage], bp.optionOf(c.batch)
	var out []float64
	for i := range c.options {
		out = append(out, bp.makingCost(bev, option, c.options[i].g))
	}
	return out
}

// sameBatch reports whether two starts are the same batch, whatever their size: a brewer begins one batch at a time.
func sameBatch(a, b *batch.Start) bool {
	return a.Brewer == b.Brewer && a.StartSlot == b.StartSlot && a.Beverage == b.Beverage
}

// savedMaking is the cost of making that choices are expected to save.
func (bp *brewPlan) savedMaking(r *risk.Result) float64 {
	saved, k := 0.0, 0
	for i := range bp.choices {
		c := &bp.choices[i]
		if bp.lotOf(&c.batch) < 0 { // addChoice left it out too
			continue
		}
		making := bp.optionCosts(c)
		for o, share := range r.Decided[k].Options {
			saved += share * (making[0] - making[o])
		}
		k++
	}
	return saved
}

// belowBefore returns the figures that the plan before had for the same choice of the same number of options; nil if it had none.
func (bp *brewPlan) belowBefore(c *choice) []float64 {
	for i := range bp.opt.ChoicesBefore {
		was := &bp.opt.ChoicesBefore[i]
		if was.Beverage != c.batch.Beverage || was.Date != bp.req.Site.ServiceDayOf(bp.h.at(c.batch.StartSlot)) || len(was.Options) != len(c.options) {
			continue
		}
		var below []float64
		for k := range was.Options[:len(was.Options)-1] {
			if was.Options[k].BelowG == nil {
				return nil
			}
			below = append(below, *was.Options[k].BelowG)
		}
		return below
	}
	return nil
}

// answered reports whether somebody has looked at a beverage's stock on the service day of an instant: nobody need look again.
func (bp *brewPlan) answered(bev int, at time.Time) bool {
	day := bp.req.Site.ServiceDayOf(at)
	return slices.ContainsFunc(bp.req.UnderWay, func(u models.UnderWay) bool {
		return u.Kind == models.TaskLook && u.Beverage != nil && *u.Beverage == bp.req.Beverages[bev].Code && bp.req.Site.ServiceDayOf(u.Start) == day
	})
}

// edges are the amounts at which a choice may change: halfway between whole containers of the site, or round amounts.
func (bp *brewPlan) edges(seen []float64) []float64 {
	step, first := float64(roundLook), float64(roundLook)
	if jug := bp.req.Site.JugG; jug > 0 {
		step, first = jug, jug/2
	}
	var out []float64
	for g := first; g <= slices.Max(seen)+step && len(out) < 400; g += step {
		out = append(out, g)
	}
	return out
}

// roundLook is the step of amounts to compare with, g, where a site names no container.
const roundLook = 500.0
