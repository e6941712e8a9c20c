package audit

import (
	"math"
	"sort"

	"hotday/models"
)

var amountRules = []Rule{
	{"amounts.size", "A batch is of a size that people know: one of the brewer's sizes, else a multiple of 100 g or 4 oz.", batchSizes},
	{"amounts.steps", "Coffee, water and ice are rounded to steps that a hand can hit.", weighingSteps},
	{"amounts.ratio", "Rounding keeps the brew ratio within 1 %.", ratios},
	{"amounts.strength", "A batch's strength follows from its amounts, within 0.02 of its recipe.", strengths},
	{"amounts.final_temp", "A batch's final temperature follows from its amounts, within 0.5 °C of its recipe.", finalTemps},
	{"amounts.mass", "A batch's beverage, yield and what the grounds keep follow from its amounts.", masses},
	{"amounts.bath_ice", "Bath ice is rounded to 0.1 kg, or to a quarter of a pound.", bathIceSteps},
	{"amounts.summary", "The summary adds up the batches.", summarySums},
	{"amounts.stock", "The stock curves rise by what batches make, and by nothing else.", stockCurves},
}

const (
	ratioWithin = 0.01
	tdsWithin   = 0.02
	tempWithinC = 0.5
)

const (
	ounceG = 28.349523125
	poundG = 16 * ounceG
)

// weighing is how a site weighs: the steps of words.md, none finer than its scale.
type weighing struct {
	ounces bool
	scaleG float64
}

func (p *Papers) weighing() weighing {
	w := weighing{ounces: p.request.Site.Shown().Mass == models.OuncesPounds, scaleG: p.request.Site.ScaleG}
	if w.scaleG <= 0 {
		w.scaleG = 1
	}
	return w
}

// shownG is the finest step that the scale shows, g: in ounces one of 0.01, 0.05, 0.1, 0.2, 0.5 and so on, no finer than in grams.
func (w weighing) shownG() float64 {
	if !w.ounces {
		return w.scaleG
	}
	for _, oz := range []float64{0.01, 0.05, 0.1, 0.2, 0.5, 1, 2} {
		if oz*ounceG >= w.scaleG-1e-9 {
			return oz * ounceG
		}
	}
	return math.Ceil(w.scaleG/ounceG-1e-9) * ounceG
}

// coarser is a step made a multiple of the scale's resolution.
func (w weighing) coarser(step float64) float64 {
	return math.Ceil(step/w.shownG()-1e-9) * w.shownG()
}

func (w weighing) doseStep(g float64) float64 {
	switch {
	case w.ounces && g >= 7*ounceG:
		return w.coarser(0.25 * ounceG)
	case w.ounces:
		return w.coarser(0.1 * ounceG)
	case g >= 200:
		return w.coarser(5)
	}
	return w.coarser(1)
}

// waterStep is the step of brew water and of ice to stir in.
func (w weighing) waterStep(g float64) float64 {
	switch {
	case w.ounces && g >= 10*poundG:
		return w.coarser(2 * ounceG)
	case w.ounces && g >= 3*poundG:
		return w.coarser(0.5 * ounceG)
	case w.ounces:
		return w.coarser(0.2 * ounceG)
	case g >= 5000:
		return w.coarser(50)
	case g >= 1500:
		return w.coarser(10)
	}
	return w.coarser(5)
}

// weighable reports whether the scale shows an amount: a multiple of 0.1 g, or of 0.01 oz, or of the scale's resolution where that is
// coarser.
func (w weighing) weighable(g float64) bool {
	return multiple(g, w.coarser(0.1)) || w.ounces && multiple(g, 0.01*ounceG)
}

func (w weighing) sizeStep() float64 {
	if w.ounces {
		return 4 * ounceG
	}
	return 100
}

func multiple(g, step float64) bool {
	n := g / step
	return math.Abs(n-math.Round(n)) < 1e-5
}

// finishedPerG is the finished beverage of 1 g of coffee, g.
func finishedPerG(bev *models.Beverage) float64 {
	water, ice := recipe(bev, 1)
	return brewed(bev, 1, water).brewedG + ice
}

// sizeWithin is how far rounding may take a batch from its size, g: a step of coffee, and one each of water and ice.
func (p *Papers) sizeWithin(b *batch) float64 {
	w := p.weighing()
	return w.doseStep(b.DoseG+w.doseStep(b.DoseG))*finishedPerG(p.beverage(b.Beverage)) + w.waterStep(b.BrewWaterG) + w.waterStep(b.IceG)
}

func batchSizes(p *Papers, report report) {
	for _, b := range p.due() {
		w := p.brewer(b.Brewer)
		if w == nil {
			continue
		}
		within := p.sizeWithin(b)
		if len(w.SizesG) > 0 {
			best := math.Inf(1)
			for _, s := range w.SizesG {
				best = min(best, math.Abs(s-b.BeverageG))
			}
			if best > within && !p.limited(b, within) {
				report(b.ID, "%.0f g, %s makes %v g", b.BeverageG, b.Brewer, w.SizesG)
			}
			continue
		}
		step := p.weighing().sizeStep()
		for w.MaxBeverageG/step > 500 {
			step *= 10
		}
		off := math.Abs(b.BeverageG - math.Round(b.BeverageG/step)*step)
		if off > min(within, step/2-1e-6) && within < step/2 && !p.limited(b, within) {
			report(b.ID, "%.0f g is %.0f g from a multiple of %.0f g", b.BeverageG, off, step)
		}
	}
}

// limited reports whether a batch is as large or as small as its brewer allows: then it has the size of the brewer.
func (p *Papers) limited(b *batch, within float64) bool {
	w := p.brewer(b.Brewer)
	return b.BeverageG > w.MaxBeverageG-within || b.BeverageG < w.MinBeverageG+within ||
		w.MaxDoseG != nil && b.DoseG > *w.MaxDoseG-p.weighing().doseStep(b.DoseG) || w.MaxWaterG != nil && b.BrewWaterG > *w.MaxWaterG-p.weighing().waterStep(b.BrewWaterG)-b.BrewWaterG/b.DoseG*p.weighing().doseStep(b.DoseG)
}

func weighingSteps(p *Papers, report report) {
	w := p.weighing()
	for _, b := range p.due() {
		bev := p.beverage(b.Beverage)
		for _, x := range []struct {
			what string
			g    float64
		}{{"coffee", b.DoseG}, {"water", b.BrewWaterG}, {"ice", b.IceG}} {
			if !w.weighable(x.g) {
				report(b.ID, "%.3f g of %s cannot be weighed", x.g, x.what)
			}
		}
		// A dose just below a limit may be rounded up to it in the finer step.
		if step := w.doseStep(b.DoseG); !multiple(b.DoseG, step) && !multiple(b.DoseG, w.doseStep(b.DoseG*0.98)) && p.fitsRounded(b, step) {
			report(b.ID, "%.1f g of coffee, a step of %.1f g would do", b.DoseG, step)
		}
		waterG, iceG := recipe(bev, b.DoseG)
		ws, is := w.waterStep(waterG), w.waterStep(iceG)
		if multiple(b.BrewWaterG, ws) && multiple(b.IceG, is) {
			continue
		}
		// Finer steps are for batches that the coarse ones would change too much.
		if water, ice := math.Round(waterG/ws)*ws, math.Round(iceG/is)*is; p.keeps(b, water, ice) && p.fitsBrewer(b, water, ice) {
			report(b.ID, "%.1f g of water and %.1f g of ice, steps of %.1f g and %.1f g would do", b.BrewWaterG, b.IceG, ws, is)
		}
	}
}

// fitsBrewer reports whether water and ice for a batch's dose make a batch that its brewer makes.
func (p *Papers) fitsBrewer(b *batch, waterG, iceG float64) bool {
	w := p.brewer(b.Brewer)
	g := brewed(p.beverage(b.Beverage), b.DoseG, waterG).brewedG + iceG
	return w != nil && g >= w.MinBeverageG && g <= w.MaxBeverageG && (w.MaxWaterG == nil || waterG <= *w.MaxWaterG)
}

// fitsRounded reports whether both doses around a batch's, in a step, give a batch that its brewer makes.
func (p *Papers) fitsRounded(b *batch, step float64) bool {
	w, per := p.brewer(b.Brewer), finishedPerG(p.beverage(b.Beverage))
	if w == nil {
		return false
	}
	for _, d := range []float64{math.Floor(b.DoseG/step) * step, math.Ceil(b.DoseG/step) * step} {
		g, slack := d*per, p.weighing().waterStep(b.BrewWaterG)+p.weighing().waterStep(b.IceG)
		if d <= 0 || g > w.MaxBeverageG-slack || g < w.MinBeverageG+slack || w.MaxDoseG != nil && d > *w.MaxDoseG || w.MaxWaterG != nil && d*b.BrewWaterG/b.DoseG > *w.MaxWaterG-slack {
			return false
		}
	}
	return true
}

// beforeC is the temperature of a batch when its ice goes in, or when it is cold, °C.
func (b *batch) beforeC() float64 {
	if b.CoolToBeforeIceC != nil {
		return *b.CoolToBeforeIceC
	}
	return b.BrewerOutTempC
}

// result is the strength, %, and the temperature, °C, that water and ice give with a batch's dose.
func (p *Papers) result(b *batch, waterG, iceG float64) (tdsPct, finalC float64) {
	l := brewed(p.beverage(b.Beverage), b.DoseG, waterG)
	if iceG <= 0 {
		return l.tdsPct, b.beforeC()
	}
	finalC, melted := mixed(l.brewedG, b.beforeC(), iceG, b.IceTempC, b.IceWetShare)
	return l.tdsPct * l.brewedG / (l.brewedG + melted), finalC
}

// intended is the strength and the temperature of a batch's recipe, unrounded.
func (p *Papers) intended(b *batch) (tdsPct, finalC float64) {
	water, ice := recipe(p.beverage(b.Beverage), b.DoseG)
	return p.result(b, water, ice)
}

// keeps reports whether water and ice for a batch's dose keep ratio, strength and temperature of its recipe, with a margin so that only
// clear cases count.
func (p *Papers) keeps(b *batch, waterG, iceG float64) bool {
	const margin = 0.95
	bev := p.beverage(b.Beverage)
	water, ice := recipe(bev, b.DoseG)
	tds, c := p.result(b, waterG, iceG)
	wantTDS, wantC := p.result(b, water, ice)
	return math.Abs((waterG+iceG)/(water+ice)-1) <= margin*ratioWithin && math.Abs(tds-wantTDS) <= margin*tdsWithin && math.Abs(c-wantC) <= margin*tempWithinC
}

// tiny reports whether a batch is so small that the scale's resolution alone changes its recipe.
func (p *Papers) tiny(b *batch) bool { return b.DoseG < 100*p.weighing().scaleG }

func ratios(p *Papers, report report) {
	for _, b := range p.due() {
		bev := p.beverage(b.Beverage)
		if b.DoseG <= 0 {
			report(b.ID, "no coffee")
			continue
		}
		if r := (b.BrewWaterG + b.IceG) / b.DoseG; math.Abs(r/bev.Ratio-1) > ratioWithin+1e-6 && !p.tiny(b) {
			report(b.ID, "1 : %.2f, recipe 1 : %.2f", r, bev.Ratio)
		}
	}
}

func strengths(p *Papers, report report) {
	for _, b := range p.due() {
		own, _ := p.result(b, b.BrewWaterG, b.IceG)
		if math.Abs(own-b.ExpectedTDSPct) > 0.005 {
			report(b.ID, "its amounts give %.3f %%, it states %.3f %%", own, b.ExpectedTDSPct)
		}
		if want, _ := p.intended(b); math.Abs(own-want) > tdsWithin+1e-6 && !p.tiny(b) {
			report(b.ID, "%.3f %%, recipe %.3f %%", own, want)
		}
	}
}

func finalTemps(p *Papers, report report) {
	for _, b := range p.due() {
		_, own := p.result(b, b.BrewWaterG, b.IceG)
		if math.Abs(own-b.FinalTempC) > 0.1 {
			report(b.ID, "its amounts end at %.2f °C, it states %.2f °C", own, b.FinalTempC)
		}
		if _, want := p.intended(b); math.Abs(own-want) > tempWithinC+1e-6 && !p.tiny(b) {
			report(b.ID, "ends at %.2f °C, recipe at %.2f °C", own, want)
		}
	}
}

func masses(p *Papers, report report) {
	for _, b := range p.due() {
		bev := p.beverage(b.Beverage)
		own := brewed(bev, b.DoseG, b.BrewWaterG)
		if !near(own.brewedG+b.IceG, b.BeverageG, 0.5, 1e-6) {
			report(b.ID, "its amounts make %.1f g, it states %.1f g", own.brewedG+b.IceG, b.BeverageG)
		}
		if !near(own.dissolvedG, b.DissolvedG, 0.1, 1e-6) || !near(own.retainedG, b.RetainedG, 0.1, 1e-6) {
			report(b.ID, "dissolved %.1f g and retained %.1f g, its dose gives %.1f g and %.1f g", b.DissolvedG, b.RetainedG, own.dissolvedG, own.retainedG)
		}
	}
}

func bathIceSteps(p *Papers, report report) {
	step := 100.0
	if p.weighing().ounces {
		step = poundG / 4
	}
	for _, b := range p.due() {
		if !multiple(b.BathIceG, step) && !multiple(b.BathIceG, p.weighing().coarser(step)) {
			report(b.ID, "%.1f g of bath ice", b.BathIceG)
		}
	}
}

func summarySums(p *Papers, report report) {
	s := &p.plan.Summary
	n, g, dose := 0, 0.0, 0.0
	for _, b := range p.due() {
		n++
		g += b.BeverageG
		dose += b.DoseG
	}
	if n != s.Batches || !near(g, s.BeverageG, 0.5, 1e-6) || !near(dose, s.DoseG, 0.5, 1e-6) {
		report("summary", "%d batches, %.0f g of %.0f g of coffee; the batches are %d, %.0f g of %.0f g", s.Batches, s.BeverageG, s.DoseG, n, g, dose)
	}
	if ice := p.plan.Ice.StirredInG + p.plan.Ice.ServedG; !near(ice, s.DrinkIceG, 1, 1e-6) {
		report("summary", "%.0f g of ice for drinks, %.0f g stirred in and served", s.DrinkIceG, ice)
	}
	servings := 0.0
	for _, d := range p.plan.Demand {
		servings += d.Mean
	}
	if !near(servings, s.Servings, 0.5, 1e-6) {
		report("summary", "%.1f drinks, the rows add up to %.1f", s.Servings, servings)
	}
}

func (p *Papers) stockInOrder() []models.StockPoint {
	points := append([]models.StockPoint{}, p.plan.Stock...)
	sort.SliceStable(points, func(i, k int) bool { return points[i].At.Before(points[k].At) })
	return points
}

func stockCurves(p *Papers, report report) {
	slot := models.Minutes(2 * float64(max(p.request.Site.SlotMin, 15)))
	last := map[string]models.StockPoint{}
	for _, x := range p.stockInOrder() {
		before, ok := last[x.Beverage]
		last[x.Beverage] = x
		if !ok || x.G <= before.G+1 {
			continue
		}
		made := 0.0
		for i := range p.plan.Batches {
			if b := &p.plan.Batches[i]; b.Beverage == x.Beverage && b.Ready.After(before.At.Add(-slot)) && !b.Ready.After(x.At) {
				made += b.BeverageG
			}
		}
		if x.G-before.G > made+1 {
			report(x.Beverage, "rises by %.0f g from %s to %s, batches make %.0f g", x.G-before.G, p.clock(before.At), p.clock(x.At), made)
		}
	}
}
