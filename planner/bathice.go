package planner

import (
	"math"
	"slices"
	"time"

	"hotday/models"
)

// bath is the ice bath of one batch.
type bath struct {
	kept, batch int // index of kept and of batches; one of them is −1
	at          time.Time
	until       time.Time
	slot        int     // may lie outside the horizon
	iceG        float64 // as weighed
	fromDrinksG float64 // part of it that comes from the ice for drinks
	missingG    float64 // part of it that no ice is left for
	waterL      float64 // to fill it to the level of the coffee, beside what is in it
}

// chooseIce picks the tray loads of both kinds of ice for the batches as they stand. Bath ice that the ice-bath stream lacks comes from
// the ice for drinks where there is enough of that; else the bath goes without (missingG).
func (bp *brewPlan) chooseIce() {
	bp.layBaths()
	bp.plain.choose()
	clear(bp.drink.bath)
	bp.drink.choose()
	if models.Sum(bp.plain.run.lack) >= leastBathLackG {
		bp.borrowIce()
	}
}

// leastBathLackG is a lack of ice-bath ice that is not worth mentioning, g.
const leastBathLackG = 50

// layBaths lists the baths in order of time and states their ice as the demand of the ice-bath stream.
func (bp *brewPlan) layBaths() {
	bp.baths = bp.baths[:0]
	for i := range bp.kept {
		b := &bp.kept[i]
		bp.addBath(bath{kept: i, batch: -1}, b.bev, &b.amounts, b.task.Start, b.t, b.busyMin)
	}
	for i := range bp.batches {
		p := &bp.batches[i]
		o := &bp.options[p.option]
		bp.addBath(bath{kept: -1, batch: i}, o.bev, &p.amounts, bp.h.at(p.slot), p.t, bp.req.Brewers[o.brewer].BusyMin)
	}
	slices.SortStableFunc(bp.baths, func(a, b bath) int { return a.at.Compare(b.at) })
	bp.fillBaths()
	clear(bp.plain.stir)
	for i := range bp.baths {
		if b := &bp.baths[i]; bp.needsIce(b) {
			bp.plain.stir[b.slot] += b.iceG
		}
	}
}

func (bp *brewPlan) addBath(b bath, bev int, a *amounts, start time.Time, t times, busyMin float64) {
	rc := bp.recipes[bev]
	from, minutes := rc.bathSpan(a.doseG, t, busyMin)
	b.at = start.Add(models.Minutes(from))
	b.until = b.at.Add(models.Minutes(minutes))
	b.slot = bp.h.slotOf(b.at)
	if b.iceG = rc.bathIceG(a.g-a.iceG, &bp.req.Ice, bp.bathWetShare(), bp.airAt(b.slot), minutes); b.iceG > 0 {
		b.waterL = (a.g - a.iceG) / 1000
		bp.baths = append(bp.baths, b)
	}
}

// airAt is the air temperature of a slot, °C; outside the horizon, that of its nearest slot.
func (kt *kitchen) airAt(t int) float64 {
	if len(kt.air) == 0 {
		return models.UnknownHottestC
	}
	return kt.air[min(max(t, 0), len(kt.air)-1)]
}

// bathWetShare is the liquid share of the ice that baths get.
func (bp *brewPlan) bathWetShare() float64 {
	if bp.plain.hasSource() {
		return bp.plain.wetShare(bp.req)
	}
	return bp.drink.wetShare(bp.req)
}

// hasSource reports whether there is any of this ice, or equipment that makes it.
func (s *iceStream) hasSource() bool { return s.opening > 0 || len(s.makers)+len(s.units) > 0 }

// needsIce reports whether a bath takes its ice within the horizon: one of a batch that is made has had it.
func (bp *brewPlan) needsIce(b *bath) bool {
	return b.slot >= 0 && b.slot < bp.h.n && (b.kept < 0 || bp.kept[b.kept].task.State == models.Started)
}

// fillBaths works out the water of each bath. A vessel is filled once per session, a service day, up to the level of the coffee; later
// batches only need what is missing to theirs. Two baths at once are two vessels.
func (bp *brewPlan) fillBaths() {
	type vessel struct {
		litres float64
		until  time.Time
	}
	vessels := map[models.Date][]vessel{}
	for i := range bp.baths {
		b := &bp.baths[i]
		day := bp.req.Site.ServiceDayOf(b.at)
		free := -1
		for k, v := range vessels[day] {
			if !v.until.After(b.at) && (free < 0 || v.litres > vessels[day][free].litres) {
				free = k
			}
		}
		if free < 0 {
			vessels[day] = append(vessels[day], vessel{})
			free = len(vessels[day]) - 1
		}
		v := &vessels[day][free]
		level := math.Ceil(b.waterL - 1e-9)
		b.waterL = max(0, level-v.litres)
		v.litres, v.until = max(v.litres, level), b.until
	}
}

// borrowIce takes the bath ice that the ice-bath stream lacks from the ice for drinks: all of it if there is enough, else bath by bath in
// order of time. There is enough if no drink that has its coffee goes without ice for it.
func (bp *brewPlan) borrowIce() {
	d := bp.drink
	all := d.serve
	d.serve = bp.servable()
	base := d.runBin(d.loads)
	short, lack := models.Sum(base.short)+leastBathLackG, models.Sum(base.lack)+0.5
	fits := func(r *iceRun) bool { return models.Sum(r.short) <= short && models.Sum(r.lack) <= lack }
	bp.shareLack()
	copy(d.bath, bp.plain.run.lack)
	if run := d.runBin(d.loads); !fits(&run) {
		d.choose() // with tray loads for the baths too
		bp.borrowByBath(fits)
	}
	d.serve = all
	d.choose()
}

// borrowByBath gives the baths ice for drinks one after another while that fits, with the tray loads chosen.
func (bp *brewPlan) borrowByBath(fits func(*iceRun) bool) {
	d := bp.drink
	if fits(&d.run) {
		return
	}
	clear(d.bath)
	for i := range bp.baths {
		b := &bp.baths[i]
		if b.fromDrinksG <= 0 {
			continue
		}
		d.bath[b.slot] += b.fromDrinksG
		if run := d.runBin(d.loads); !fits(&run) {
			d.bath[b.slot] -= b.fromDrinksG
			b.missingG, b.fromDrinksG = b.fromDrinksG, 0
		}
	}
}

// servable is the serving ice of the drinks that have their coffee, g by slot: demand less the share that goes without.
func (bp *brewPlan) servable() []float64 {
	out := slices.Clone(bp.drink.serve)
	for t := range out {
		var asked, short float64
		for i := range bp.req.Beverages {
			asked += bp.needs.path[i][t]
			short += bp.result.Short[i][t]
		}
		if asked > 0 {
			out[t] *= 1 - min(1, short/asked)
		}
	}
	return out
}

// shareLack says which baths the ice-bath stream has no ice for: of those of one slot, the last.
func (bp *brewPlan) shareLack() {
	lack := slices.Clone(bp.plain.run.lack)
	for i := len(bp.baths) - 1; i >= 0; i-- {
		if b := &bp.baths[i]; bp.needsIce(b) {
			b.fromDrinksG = min(b.iceG, lack[b.slot])
			lack[b.slot] -= b.fromDrinksG
		}
	}
}

// withoutBathIce returns a batch that no ice is left for to cool it in its bath, −1 if there is none. Batches under way stay.
func (bp *brewPlan) withoutBathIce() int {
	for i := range bp.baths {
		if b := &bp.baths[i]; b.batch >= 0 && b.missingG > leastBathLackG {
			return b.batch
		}
	}
	return -1
}

// unbathed is what the plan leaves out for want of ice for baths.
type unbathed struct {
	batches    int
	beverageG  float64
	iceG       float64
	first      int // slot
	firstBatch string
}

// leaveUnbathed notes that a batch is left out because its bath has no ice.
func (bp *brewPlan) leaveUnbathed(batch int) {
	k := slices.IndexFunc(bp.baths, func(b bath) bool { return b.batch == batch })
	if k < 0 {
		return
	}
	b, u := &bp.baths[k], &bp.unbathed
	if u.batches == 0 || b.slot < u.first {
		u.first = b.slot
		u.firstBatch = bp.name(bp.options[bp.batches[batch].option].bev)
	}
	u.batches++
	u.beverageG += bp.batches[batch].g
	u.iceG += b.iceG
}

// bathOf returns the bath of a planned batch or of one under way; nil without one. The index that is not asked for is −1.
func (bp *brewPlan) bathOf(kept, batch int) *bath {
	k := slices.IndexFunc(bp.baths, func(b bath) bool { return b.kept == kept && b.batch == batch })
	if k < 0 {
		return nil
	}
	return &bp.baths[k]
}

// bathFromDrinks is the share of the bath ice that has to come from the ice for drinks: what the search assumes.
func (bp *brewPlan) bathFromDrinks() float64 {
	if !bp.plain.hasSource() {
		return 1
	}
	all := models.Sum(bp.plain.stir)
	if all <= 0 {
		return bp.bathShare
	}
	return min(1, models.Sum(bp.plain.run.lack)/all)
}

// bathIcePerG is the bath ice per gram of finished beverage of an option's largest batch that the search takes from the ice for drinks.
func (bp *brewPlan) bathIcePerG(o *option) float64 {
	if bp.bathShare <= 0 {
		return 0
	}
	rc, busy := bp.recipes[o.bev], bp.req.Brewers[o.brewer].BusyMin
	dose := rc.doseFor(o.hi)
	_, minutes := rc.bathSpan(dose, o.t, busy)
	return bp.bathShare * rc.bathIceG(rc.brewedG(dose), &bp.req.Ice, bp.bathWetShare(), bp.hottest(), minutes) / o.hi
}

// keptBathIce is the bath ice that batches under way take from the ice for drinks, g by slot, as the search assumes.
func (bp *brewPlan) keptBathIce() []float64 {
	out := make([]float64, bp.h.n)
	for i := range bp.baths {
		if b := &bp.baths[i]; b.kept >= 0 && bp.needsIce(b) {
			out[b.slot] += bp.bathShare * b.iceG
		}
	}
	return out
}

// borrowed returns the ice that baths take from the ice for drinks, g, and the slot of the first of them; −1 if none does.
func (bp *brewPlan) borrowed() (g float64, first int) {
	first = -1
	for i := range bp.baths {
		if b := &bp.baths[i]; b.fromDrinksG > 0 {
			g += b.fromDrinksG
			if first < 0 {
				first = b.slot
			}
		}
	}
	return g, first
}
