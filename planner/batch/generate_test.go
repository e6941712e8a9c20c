package batch

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// tiny draws a small instance with every feature that the format, and callers in Go, know.
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
		UnitCostPerKg: rng.Float64() * 3, DisposalPerKg: rng.Float64(), ShortPerKg: rng.Float64() * 25, AgingPerKgH: rng.Float64()}
	switch rng.IntN(4) {
	case 0:
		b.CarryCreditPerKg = rng.Float64() * 3
	case 1:
		b.CarryCreditPerKg = b.UnitCostPerKg + rng.Float64() // worth making for later
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
		}
		b.Opening = append(b.Opening, o)
	}
	return b
}

func tinyOption(rng *rand.Rand, i int, in *Instance) Option {
	o := Option{Beverage: fmt.Sprintf("beverage-%d", i), MinG: float64(rng.IntN(4) * 300), BusySlots: 1 + rng.IntN(3),
		BatchCost: rng.Float64() * 5, IcePerG: rng.Float64() * 0.5, IceSlots: rng.IntN(3)}
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
