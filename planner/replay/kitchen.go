package replay

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/ice"
)

// brewed is a batch: planned, under way, or in the cold store.
type brewed struct {
	brewer       string
	bev          int
	start, iceAt time.Time
	ready, useBy time.Time
	g, iceG      float64
}

// form is a load of ice in its form.
type form struct {
	mould  int // of ice.moulds
	fillAt time.Time
	takeAt time.Time
	g      float64
}

// kitchen is what stands in it at an instant.
type kitchen struct {
	lots    []brewed // in the cold store, earliest use-by first
	brewing []brewed
	ice     float64
	forms   []form
}

// sheet is what the kitchen is told to make.
type sheet struct {
	batches  []brewed
	forms    []form
	allForms bool    // fill every form whenever it is empty and somebody is there
	iceSoonG float64 // drink ice that is likely short within three hours
}

// living is one kitchen living from one sheet to the next, slot by slot.
type living struct {
	s      *Season
	prices *prices
	k      *kitchen
	sheet  *sheet
	from   time.Time
	slot   time.Duration
	n      int
	now    int         // the slot that comes next
	asked  [][]float64 // servings by drink and slot
	missed [][]float64 // the same
	made   []float64   // g of drink ice that the makers can give, by slot
	keep   float64     // what a slot leaves of a gram of ice
	people []models.Span
	freeze []time.Duration // by mould
	kept   []float64       // ice wanted at the start of a slot so that batches from it on have theirs
	out    Figures
	share  sharing
	lack   []float64 // g of each beverage, then of ice, that was asked for and used up
}

// follow takes a sheet: what the one before wanted and has not begun falls away.
func (l *living) follow(sh *sheet) {
	at := l.from.Add(time.Duration(l.now) * l.slot)
	l.sheet = sh
	l.k.brewing = slices.DeleteFunc(l.k.brewing, func(b brewed) bool { return !b.start.Before(at) })
	l.k.forms = slices.DeleteFunc(l.k.forms, func(f form) bool { return !f.fillAt.Before(at) })
	l.k.brewing = append(l.k.brewing, sh.batches...)
	l.k.forms = append(l.k.forms, sh.forms...)
	l.keepBack()
}

// fetch buys ice of drinking quality for what the bin has room for.
func (l *living) fetch(g, perKg float64) {
	g = min(g, max(0, l.s.Ice.BinG-l.k.ice))
	l.k.ice += g
	l.out.BoughtIceG += g
	l.out.BoughtIce += g / 1000 * perKg
}

// until goes through the slots before slot end.
func (l *living) until(end int) {
	for ; l.now < end; l.now++ {
		t := l.now
		at := l.from.Add(time.Duration(t) * l.slot)
		l.begin(at)
		l.discard(at.Add(l.slot))
		l.freezeForms(at)
		have := l.k.ice * l.keep
		have += l.takeForms(at, have, t)
		// A full bin stops the makers; what they make while the slot's ice goes out is there for it, so the bin is held to its
		// size only after that.
		have, lackedStir := l.stir(t, at, have+l.made[t])
		l.store(at)
		used, lacked := l.share.slot(l, t, at, max(0, have-l.kept[t+1]))
		if lacked || lackedStir {
			l.out.IceShortH += l.slot.Hours()
		}
		l.k.ice = min(have-used, l.s.Ice.BinG)
	}
}

// begin counts the batches that are started in the slot.
func (l *living) begin(at time.Time) {
	for i := range l.k.brewing {
		if b := &l.k.brewing[i]; !b.start.Before(at) && b.start.Before(at.Add(l.slot)) {
			l.out.Batches++
			l.out.BatchCost += l.prices.batch[b.brewer]
		}
	}
}

// discard throws away what may not serve the whole slot that ends at until.
func (l *living) discard(until time.Time) {
	l.k.lots = slices.DeleteFunc(l.k.lots, func(b brewed) bool {
		if until.After(b.useBy) {
			l.pour(&b, b.g)
			return true
		}
		return b.g <= 1e-9
	})
}

func (l *living) pour(b *brewed, g float64) {
	l.out.PouredG += g
	l.out.PouredCoffee += g * l.prices.unit[b.bev]
	l.out.Disposal += g * l.prices.disposal[b.bev]
}

// store takes in the batches that are ready. What the cold store has no room for is thrown away, earliest use-by first.
func (l *living) store(at time.Time) {
	l.k.brewing = slices.DeleteFunc(l.k.brewing, func(b brewed) bool {
		if b.ready.After(at) {
			return false
		}
		b.ready = at // it serves from here
		l.k.lots = append(l.k.lots, b)
		return true
	})
	slices.SortStableFunc(l.k.lots, func(a, b brewed) int { return a.useBy.Compare(b.useBy) })
	over := -l.s.Site.StoreG
	for i := range l.k.lots {
		over += l.k.lots[i].g
	}
	for i := range l.k.lots {
		if b := &l.k.lots[i]; over > 1e-6 {
			g := min(b.g, over)
			l.pour(b, g)
			b.g -= g
			over -= g
		}
	}
}

func (l *living) somebody(at time.Time) bool {
	return slices.ContainsFunc(l.people, func(s models.Span) bool { return s.Contains(at) })
}

// freezeForms fills every empty form where the sheet leaves that to the kitchen.
func (l *living) freezeForms(at time.Time) {
	if !l.sheet.allForms || !l.somebody(at) {
		return
	}
	for i := range l.s.Ice.Moulds {
		m := &l.s.Ice.Moulds[i]
		in := 0
		for _, f := range l.k.forms {
			if f.mould == i && !f.fillAt.After(at) { // frozen or not
				in++
			}
		}
		for ; m.Treated && l.freeze[i] > 0 && in < m.LoadsAtOnce; in++ {
			l.k.forms = append(l.k.forms, form{mould: i, fillAt: at, takeAt: at.Add(l.freeze[i]), g: m.LoadG})
		}
	}
}

// takeForms empties the forms that are due where somebody is there and the bin has room.
func (l *living) takeForms(at time.Time, have float64, t int) float64 {
	if !l.somebody(at) {
		return 0
	}
	got := 0.0
	room := l.s.Ice.BinG + l.iceAsked(t)
	l.k.forms = slices.DeleteFunc(l.k.forms, func(f form) bool {
		if f.takeAt.After(at) || have+got+f.g > room+1e-9 {
			return false
		}
		got += f.g
		return true
	})
	return got
}

// iceAsked is the ice that glasses and batches ask for in a slot.
func (l *living) iceAsked(t int) float64 {
	g := l.stirred(t)
	for d := range l.s.Drinks {
		g += l.asked[d][t] * l.s.Drinks[d].ServingIceG
	}
	return g
}

// stirred is the ice that batches take in a slot.
func (l *living) stirred(t int) float64 {
	from := l.from.Add(time.Duration(t) * l.slot)
	span := models.Span{From: from, To: from.Add(l.slot)}
	g := 0.0
	for i := range l.k.brewing {
		if b := &l.k.brewing[i]; b.iceG > 0 && span.Contains(b.iceAt) {
			g += b.iceG
		}
	}
	return g
}

// keepBack works out what must stay in the bin for the batches of the sheet.
func (l *living) keepBack() {
	l.kept = make([]float64, l.n+1)
	for t := l.n - 1; t >= 0; t-- {
		l.kept[t] = min(max(0, l.kept[t+1]+l.stirred(t)-l.made[t])/l.keep, l.s.Ice.BinG)
	}
}

// stir gives the batches of the slot their ice; where less is there a batch becomes as much smaller. It returns the ice left and
// whether some lacked.
func (l *living) stir(t int, at time.Time, have float64) (left float64, lacked bool) {
	want := l.stirred(t)
	if want <= have {
		return have - want, false
	}
	l.lacks(len(l.s.Beverages), want-have)
	part := have / want
	for i := range l.k.brewing {
		if b := &l.k.brewing[i]; b.iceG > 0 && !b.iceAt.Before(at) && b.iceAt.Before(at.Add(l.slot)) {
			b.g *= part
			b.iceG *= part
		}
	}
	return 0, true
}

// lacks books g of a thing that was asked for and used up.
func (l *living) lacks(thing int, g float64) {
	if l.lack == nil {
		l.lack = make([]float64, len(l.s.Beverages)+1)
	}
	l.lack[thing] += g
}

// people are the spans in which somebody is there, over the dates that touch [from, to).
func (s *Season) people(days []Day, from, to time.Time) []models.Span {
	var out []models.Span
	for i := range days {
		if !s.open(&days[i]) {
			continue
		}
		for _, p := range s.Site.PeopleSpans(days[i].Date) {
			if p = p.Overlap(models.Span{From: from, To: to}); !p.Empty() {
				out = append(out, p)
			}
		}
	}
	slices.SortFunc(out, func(a, b models.Span) int { return cmp.Compare(a.From.Unix(), b.From.Unix()) })
	return out
}

// freezing is how long each mould's load takes; 0 for one that never freezes.
func freezing(x *models.Ice) []time.Duration {
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
