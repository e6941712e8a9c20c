package batch

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// tiny draws a small instance with every feature of the document and of the Go API.
func tiny(rng *rand.Rand) *Instance {
	slots := 3 + rng.IntN(4)
	in := &Instance{SlotMin: 30, Slots: slots, StartsPerSlot: 1 + rng.IntN(2), StoreG: float64(1000 + rng.IntN(5)*1000)}
	bevs := 1 + rng.IntN(2)
	for i := 0; i < bevs; i++ {
		in.Beverages = append(in.Beverages, tinyBeverage(rng, i, in))
	}
	brewers := 1 + rng.IntN(2)
	for b := 0; b < brewers; b++ {
		br := Brewer{Name: fmt.Sprintf("brewer-%d", b)}
		if rng.IntN(3) == 0 {
			from := rng.IntN(slots)
			br.Available = [][]int{{from, from + 1 + rng.IntN(slots-from)}}
		}
		for i := 0; i < bevs; i++ {
			if rng.IntN(4) == 0 && brewers+bevs > 2 {
				continue
			}
			br.Options = append(br.Options, tinyOption(rng, i, in))
		}
		in.Brewers = append(in.Brewers, br)
	}
	if rng.IntN(4) == 0 {
		in.SlotStarts = make([]int, slots)
		for t := range in.SlotStarts {
			in.SlotStarts[t] = rng.IntN(3)
		}
	}
	if rng.IntN(2) == 0 {
		in.Ice = tinyIce(rng, slots)
	}
	return in
}

func tinyBeverage(rng *rand.Rand, i int, in *Instance) Beverage {
	b := Beverage{Name: fmt.Sprintf("beverage-%d", i), ReadySlots: rng.IntN(3), HoldSlots: 1 + rng.IntN(in.Slots+1),
		CarryAfter: rng.IntN(2 * in.Slots), UnitCostPerKg: rng.Float64() * 3, DisposalPerKg: rng.Float64(), ShortPerKg: rng.Float64() * 25, AgingPerKgH: rng.Float64()}
	switch rng.IntN(4) {
	case 0:
		b.CarryCreditPerKg = rng.Float64() * 3
	case 1:
		b.CarryCreditPerKg = b.UnitCostPerKg + rng.Float64() // worth making to carry over
	}
	for t := 0; t < in.Slots; t++ {
		d := 0.0
		if rng.IntN(3) > 0 {
			d = math.Round(rng.Float64()*1500) + float64(rng.IntN(2))*rng.Float64()
		}
		b.DemandG = append(b.DemandG, d)
	}
	for n := rng.IntN(3); n > 0; n-- {
		o := Opening{G: math.Round(rng.Float64() * 500), ExpiresSlot: rng.IntN(in.Slots + 3)}
		if rng.IntN(4) == 0 {
			o.ReadySlot = rng.IntN(in.Slots)
			o.ExpiresSlot = o.ReadySlot + b.HoldSlots
			o.EarlySlots = rng.IntN(2)
		}
		b.Opening = append(b.Opening, o)
	}
	return b
}

func tinyOption(rng *rand.Rand, i int, in *Instance) Option {
	o := Option{Beverage: fmt.Sprintf("beverage-%d", i), MinG: float64(rng.IntN(4) * 300), BusySlots: 1 + rng.IntN(3),
		BatchCost: rng.Float64() * 5, IcePerG: rng.Float64() * 0.5, IceSlots: rng.IntN(3), EarlySlots: rng.IntN(3)}
	o.MaxG = o.MinG + float64(rng.IntN(5)*500)
	if o.MaxG == 0 {
		o.MaxG = 700
	}
	if rng.IntN(6) == 0 {
		ready := rng.IntN(3)
		o.ReadySlots = &ready
	}
	if rng.IntN(6) == 0 {
		for t := 0; t < in.Slots; t++ {
			o.MayStart = append(o.MayStart, rng.IntN(3) > 0)
		}
	}
	return o
}

func tinyIce(rng *rand.Rand, slots int) *Ice {
	ice := &Ice{CapacityG: 200 + rng.Float64()*1500, ShortPerKg: rng.Float64() * 12, LossPerSlot: float64(rng.IntN(3)) * 0.02}
	ice.OpeningG = ice.CapacityG * rng.Float64()
	for t := 0; t < slots; t++ {
		ice.MakeG = append(ice.MakeG, rng.Float64()*300)
		ice.ServeG = append(ice.ServeG, float64(rng.IntN(2))*rng.Float64()*800)
	}
	return ice
}

// cafe draws a day like those of the reference instances (which have 56 slots): slots of 15 minutes, drinks of 180 g, an
// afternoon peak.
func cafe(rng *rand.Rand, slots, brewers, beverages int, ice bool) *Instance {
	in := &Instance{SlotMin: 15, Slots: slots, StartsPerSlot: 1, StoreG: pick(rng, 8000, 12000, 16000)}
	drinks := make([]float64, slots)
	for i := 0; i < beverages; i++ {
		b := Beverage{Name: fmt.Sprintf("beverage-%d", i+1), ReadySlots: 1 + rng.IntN(3), HoldSlots: 12 + rng.IntN(20),
			UnitCostPerKg: between(rng, 1.3, 2.8), DisposalPerKg: between(rng, 0.1, 0.5), ShortPerKg: between(rng, 15, 26),
			AgingPerKgH: between(rng, 0.05, 0.3)}
		if rng.IntN(5) == 0 { // cold brew
			b.ReadySlots, b.HoldSlots, b.CarryCreditPerKg = 5, 96, math.Round(b.UnitCostPerKg*50)/100
		}
		level, peak := between(rng, 0.6, 3), float64(slots)*between(rng, 0.45, 0.7)
		for t := 0; t < slots; t++ {
			n := 0
			if t >= slots/14 && t < slots-slots/14 {
				n = poisson(rng, level*(0.3+1.2*math.Exp(-sq(float64(t)-peak)/150)))
			}
			b.DemandG = append(b.DemandG, 180*float64(n))
			drinks[t] += float64(n)
		}
		if rng.IntN(3) > 0 && b.HoldSlots < 96 {
			b.Opening = []Opening{{G: math.Round(between(rng, 500, 2900)), ExpiresSlot: 5 + rng.IntN(15)}}
		}
		in.Beverages = append(in.Beverages, b)
	}
	for b := 0; b < brewers; b++ {
		br := Brewer{Name: fmt.Sprintf("brewer-%d", b+1), Available: [][]int{{0, slots}}}
		if rng.IntN(2) == 0 {
			br.Available = [][]int{{0, slots * 26 / 56}, {slots * 30 / 56, slots}}
		}
		most := pick(rng, 2500, 4000, 6000)
		for i := 0; i < beverages; i++ {
			o := Option{Beverage: in.Beverages[i].Name, MinG: 0.3 * most, MaxG: most, BusySlots: 1 + rng.IntN(3), BatchCost: between(rng, 2, 5)}
			if ice {
				o.IcePerG, o.IceSlots = math.Round(between(rng, 0.2, 0.6)*1000)/1000, 1
			}
			br.Options = append(br.Options, o)
		}
		in.Brewers = append(in.Brewers, br)
	}
	if ice {
		in.Ice = cafeIce(rng, drinks)
	}
	return in
}

func cafeIce(rng *rand.Rand, drinks []float64) *Ice {
	ice := &Ice{LossPerSlot: 0.002, ShortPerKg: between(rng, 6, 13)}
	total := 0.0
	for _, n := range drinks {
		ice.ServeG = append(ice.ServeG, 120*n)
		total += 120 * n
	}
	made := math.Round(total*between(rng, 0.75, 1)/5.6) / 10
	for range drinks {
		ice.MakeG = append(ice.MakeG, made)
	}
	ice.CapacityG = math.Round(total * between(rng, 0.25, 0.4))
	ice.OpeningG = math.Round(ice.CapacityG * between(rng, 0.3, 1))
	return ice
}

func between(rng *rand.Rand, lo, hi float64) float64 {
	return math.Round((lo+(hi-lo)*rng.Float64())*1000) / 1000
}

func pick(rng *rand.Rand, xs ...float64) float64 { return xs[rng.IntN(len(xs))] }

func sq(x float64) float64 { return x * x }

func poisson(rng *rand.Rand, mean float64) int {
	n, p := 0, rng.Float64()
	for limit := math.Exp(-mean); p > limit; n++ {
		p *= rng.Float64()
	}
	return n
}

// medium draws part of a day with features that the reference instances lack, small enough for CBC.
func medium(rng *rand.Rand) *Instance {
	in := cafe(rng, 10+rng.IntN(16), 1+rng.IntN(3), 1+rng.IntN(3), rng.IntN(2) == 0)
	in.StartsPerSlot = 1 + rng.IntN(2)
	if rng.IntN(3) == 0 {
		in.StoreG = pick(rng, 4000, 5000, 6000)
	}
	for b := range in.Brewers {
		for k := range in.Brewers[b].Options {
			in.Brewers[b].Options[k].EarlySlots = rng.IntN(3)
		}
	}
	for i := range in.Beverages {
		b := &in.Beverages[i]
		b.HoldSlots = 2 + rng.IntN(in.Slots)
		if rng.IntN(3) == 0 {
			b.CarryCreditPerKg = between(rng, 0, 2)
		}
		for k := range b.Opening {
			b.Opening[k].G /= 3
		}
		if rng.IntN(3) == 0 {
			b.Opening = append(b.Opening, Opening{G: math.Round(between(rng, 100, 600)), ExpiresSlot: rng.IntN(in.Slots + 5)})
		}
		if rng.IntN(2) == 0 { // not whole drinks
			for t := range b.DemandG {
				b.DemandG[t] *= between(rng, 0.5, 1.5)
			}
		}
	}
	if rng.IntN(4) == 0 {
		for t := 0; t < in.Slots; t++ {
			in.SlotStarts = append(in.SlotStarts, rng.IntN(3))
		}
	}
	if in.Ice != nil && rng.IntN(2) == 0 {
		in.Ice.LossPerSlot = between(rng, 0, 0.05)
		for t := range in.Ice.MakeG {
			in.Ice.MakeG[t] *= between(rng, 0, 2)
		}
	}
	return in
}
