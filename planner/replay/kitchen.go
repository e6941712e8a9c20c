package replay

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/ice"
)

// batch is a batch that is planned, being brewed, or in the cold store.
type batch struct {
	brewer       string
	bev          int
	start, iceAt time.Time
	ready, useBy time.Time
	g, iceG      float64
	choice       *models.Choice // by which it may be smaller or not brewed; nil once decided
}

// mouldLoad is a load of ice in a mould.
type mouldLoad struct {
	mould   int // index in ice.moulds
	fillAt  time.Time
	emptyAt time.Time
	g       float64
}

// kitchen is the state of a kitchen.
type kitchen struct {
	lots    []batch // in the cold store, earliest use-by first
	brewing []batch
	ice     float64
	moulds  []mouldLoad
}

// sheet is the kitchen's instructions.
type sheet struct {
	batches       []batch
	moulds        []mouldLoad
	fillAllMoulds bool    // refill every empty mould whenever somebody is there
	iceShortSoonG float64 // drink ice that will probably be short within three hours
}

// simulation steps one kitchen slot by slot from one evening to the next.
type simulation struct {
	s            *Season
	prices       *prices
	k            *kitchen
	sheet        *sheet
	from         time.Time
	slot         time.Duration
	n            int
	now          int         // next slot to simulate
	demand       [][]float64 // servings by drink and slot
	missed       [][]float64 // servings by drink and slot
	iceOutput    []float64   // capacity of the drink-ice machines by slot, g
	iceRetention float64     // fraction of the ice in the bin left after a slot
	staffed      []models.Span
	freeze       []time.Duration // freezing time by mould
	reserved     []float64       // by slot: ice to keep in the bin for the batches from that slot on, g
	figures      Figures
	serving      serving
	shortfall    []float64 // g of each beverage, then of ice, that was asked for after it ran out
}

// follow switches to a new sheet. Instructions of the old one that have not been started are cancelled.
func (sim *simulation) follow(sh *sheet) {
	at := sim.from.Add(time.Duration(sim.now) * sim.slot)
	sim.sheet = sh
	sim.k.brewing = slices.DeleteFunc(sim.k.brewing, func(b batch) bool { return !b.start.Before(at) })
	sim.k.moulds = slices.DeleteFunc(sim.k.moulds, func(f mouldLoad) bool { return !f.fillAt.Before(at) })
	sim.k.brewing = append(sim.k.brewing, sh.batches...)
	sim.k.moulds = append(sim.k.moulds, sh.moulds...)
	sim.reserveIce()
}

// buyIce buys drinking-quality ice, as far as the bin has room.
func (sim *simulation) buyIce(g, perKg float64) {
	g = min(g, max(0, sim.s.Ice.BinG-sim.k.ice))
	sim.k.ice += g
	sim.figures.BoughtIceG += g
	sim.figures.BoughtIce += g / 1000 * perKg
}

// runTo simulates the slots before end.
func (sim *simulation) runTo(end int) {
	for ; sim.now < end; sim.now++ {
		t := sim.now
		at := sim.from.Add(time.Duration(t) * sim.slot)
		sim.decide(at)
		sim.startBatches(at)
		sim.discard(at.Add(sim.slot))
		sim.fillMoulds(at)
		have := sim.k.ice * sim.iceRetention
		have += sim.emptyMoulds(at, have, t)
		// A full bin stops the machines. Ice made during the slot may be used in it, so the bin is only limited to its size at the end.
		have, stirShort := sim.stir(t, at, have+sim.iceOutput[t])
		sim.store(at)
		used, servingShort := sim.serving.serve(sim, t, at, max(0, have-sim.reserved[t+1]))
		if servingShort || stirShort {
			sim.figures.IceShortH += sim.slot.Hours()
		}
		sim.k.ice = min(have-used, sim.s.Ice.BinG)
	}
}

// decide takes the choices whose look is in the slot: batches get the size for what is left of their beverage.
func (sim *simulation) decide(at time.Time) {
	kept := sim.k.brewing[:0]
	for _, b := range sim.k.brewing {
		if b.choice != nil && sim.looked(&b, at) {
			b.choice = nil
			if b.g <= 0 {
				continue
			}
		}
		kept = append(kept, b)
	}
	sim.k.brewing = kept
}

// looked decides a batch if its look is in the slot.
func (sim *simulation) looked(b *batch, at time.Time) bool {
	if b.choice.LookAt.Before(at) || !b.choice.LookAt.Before(at.Add(sim.slot)) {
		return false
	}
	x := b.choice.Options[b.choice.Option(sim.left(b.bev, at))].Batch
	if x == nil {
		b.g = 0
		return true
	}
	b.g, b.iceG, b.iceAt, b.ready, b.useBy = x.BeverageG, x.IceG, x.IceAt, x.Ready, x.UseBy
	return true
}

// left is what is left of a beverage, in the cold store and in batches begun, g.
func (sim *simulation) left(bev int, at time.Time) float64 {
	g := 0.0
	for i := range sim.k.lots {
		if b := &sim.k.lots[i]; b.bev == bev && b.useBy.After(at) {
			g += b.g
		}
	}
	for i := range sim.k.brewing {
		if b := &sim.k.brewing[i]; b.bev == bev && b.start.Before(at) {
			g += b.g
		}
	}
	return g
}

// startBatches counts the batches started in the slot.
func (sim *simulation) startBatches(at time.Time) {
	for i := range sim.k.brewing {
		if b := &sim.k.brewing[i]; !b.start.Before(at) && b.start.Before(at.Add(sim.slot)) {
			sim.figures.Batches++
			sim.figures.BatchCost += sim.prices.batchCost[b.brewer]
		}
	}
}

// discard pours away beverages whose use-by time is before until, the end of the slot.
func (sim *simulation) discard(until time.Time) {
	sim.k.lots = slices.DeleteFunc(sim.k.lots, func(b batch) bool {
		if until.After(b.useBy) {
			sim.pourAway(&b, b.g)
			return true
		}
		return b.g <= 1e-9
	})
}

func (sim *simulation) pourAway(b *batch, g float64) {
	sim.figures.PouredG += g
	sim.figures.PouredCoffee += g * sim.prices.CoffeePerG[b.bev]
	sim.figures.Disposal += g * sim.prices.DisposalPerG[b.bev]
}

// store moves finished batches into the cold store. What does not fit is poured away, earliest use-by first.
func (sim *simulation) store(at time.Time) {
	sim.k.brewing = slices.DeleteFunc(sim.k.brewing, func(b batch) bool {
		if b.ready.After(at) {
			return false
		}
		b.ready = at // they can be served from this slot on
		sim.k.lots = append(sim.k.lots, b)
		return true
	})
	slices.SortStableFunc(sim.k.lots, func(a, b batch) int { return a.useBy.Compare(b.useBy) })
	over := -sim.s.Site.StoreG
	for i := range sim.k.lots {
		over += sim.k.lots[i].g
	}
	for i := range sim.k.lots {
		if b := &sim.k.lots[i]; over > 1e-6 {
			g := min(b.g, over)
			sim.pourAway(b, g)
			b.g -= g
			over -= g
		}
	}
}

func (sim *simulation) staffedAt(at time.Time) bool {
	return slices.ContainsFunc(sim.staffed, func(s models.Span) bool { return s.Contains(at) })
}

// fillMoulds fills every empty mould if the sheet says so.
func (sim *simulation) fillMoulds(at time.Time) {
	if !sim.sheet.fillAllMoulds || !sim.staffedAt(at) {
		return
	}
	for i := range sim.s.Ice.Moulds {
		m := &sim.s.Ice.Moulds[i]
		in := 0
		for _, f := range sim.k.moulds {
			if f.mould == i && !f.fillAt.After(at) { // frozen or not
				in++
			}
		}
		for ; m.Treated && sim.freeze[i] > 0 && in < m.LoadsAtOnce; in++ {
			sim.k.moulds = append(sim.k.moulds, mouldLoad{mould: i, fillAt: at, emptyAt: at.Add(sim.freeze[i]), g: m.LoadG})
		}
	}
}

// emptyMoulds takes out the ice that is due, if somebody is there and the bin has room.
func (sim *simulation) emptyMoulds(at time.Time, have float64, t int) float64 {
	if !sim.staffedAt(at) {
		return 0
	}
	got := 0.0
	room := sim.s.Ice.BinG + sim.iceDemand(t)
	sim.k.moulds = slices.DeleteFunc(sim.k.moulds, func(f mouldLoad) bool {
		if f.emptyAt.After(at) || have+got+f.g > room+1e-9 {
			return false
		}
		got += f.g
		return true
	})
	return got
}

// iceDemand is the ice that drinks and batches need in a slot, g.
func (sim *simulation) iceDemand(t int) float64 {
	g := sim.stirredIce(t)
	for d := range sim.s.Drinks {
		g += sim.demand[d][t] * sim.s.Site.ServingIceUsedG(&sim.s.Drinks[d])
	}
	return g
}

// stirredIce is the ice that batches need in a slot, g.
func (sim *simulation) stirredIce(t int) float64 {
	from := sim.from.Add(time.Duration(t) * sim.slot)
	span := models.Span{From: from, To: from.Add(sim.slot)}
	g := 0.0
	for i := range sim.k.brewing {
		if b := &sim.k.brewing[i]; b.iceG > 0 && span.Contains(b.iceAt) {
			g += b.iceG
		}
	}
	return g
}

// reserveIce computes the ice that must stay in the bin for the batches of the sheet.
func (sim *simulation) reserveIce() {
	sim.reserved = make([]float64, sim.n+1)
	for t := sim.n - 1; t >= 0; t-- {
		sim.reserved[t] = min(max(0, sim.reserved[t+1]+sim.stirredIce(t)-sim.iceOutput[t])/sim.iceRetention, sim.s.Ice.BinG)
	}
}

// stir gives the batches of the slot their ice; if there is not enough they shrink in proportion. It returns the ice left and
// whether there was too little.
func (sim *simulation) stir(t int, at time.Time, have float64) (left float64, short bool) {
	want := sim.stirredIce(t)
	if want <= have {
		return have - want, false
	}
	sim.addShortfall(len(sim.s.Beverages), want-have)
	share := have / want
	for i := range sim.k.brewing {
		if b := &sim.k.brewing[i]; b.iceG > 0 && !b.iceAt.Before(at) && b.iceAt.Before(at.Add(sim.slot)) {
			b.g *= share
			b.iceG *= share
		}
	}
	return 0, true
}

// addShortfall records g of an item that was asked for after it ran out.
func (sim *simulation) addShortfall(item int, g float64) {
	if sim.shortfall == nil {
		sim.shortfall = make([]float64, len(sim.s.Beverages)+1)
	}
	sim.shortfall[item] += g
}

// staffedSpans are the spans within [from, to) on open days in which somebody is there.
func (s *Season) staffedSpans(days []Day, from, to time.Time) []models.Span {
	var out []models.Span
	for i := range days {
		if !s.open(&days[i]) {
			continue
		}
		for _, p := range s.Site.StaffSpans(days[i].Date) {
			if p = p.Overlap(models.Span{From: from, To: to}); !p.Empty() {
				out = append(out, p)
			}
		}
	}
	slices.SortFunc(out, func(a, b models.Span) int { return cmp.Compare(a.From.Unix(), b.From.Unix()) })
	return out
}

// freezeTimes is how long the load of each mould takes to freeze, 0 if it never does.
func freezeTimes(x *models.Ice) []time.Duration {
	out := make([]time.Duration, len(x.Moulds))
	for i, m := range x.Moulds {
		f := ice.Mould{ThicknessMM: m.ThicknessMM, Geometry: ice.Geometry(m.Geometry), Sides: m.Sides, WaterC: x.InletWaterC, AirC: m.FreezerAirC,
			HWm2K: m.HWM2K, MassKg: m.LoadG / 1000 * float64(m.LoadsAtOnce), FreezerHeatW: m.FreezerHeatW}.Freeze()
		if f.Minutes > 0 && f.Minutes < 60*24*60 {
			out[i] = time.Duration(f.Minutes*60) * time.Second
		}
	}
	return out
}
