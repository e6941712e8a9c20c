package batch

import (
	"fmt"

	"hotday/models"
)

// Size limits of an instance: several times the size of a plan of several days.
const (
	maxSlots     = 3000
	maxBeverages = 64
	maxBrewers   = 64
	maxOptions   = 64
	maxSizes     = 1000
	maxOpening   = 200
	maxWindows   = 400
	maxCells     = 60000 // slots × beverages
	maxGrams     = 1e9
	maxCost      = 1e9
	maxName      = 200
)

// Validate checks the instance. The error is a *models.Error of CodeInvalid that lists the bad fields, at most twenty, by JSON
// pointer with the values accepted.
func (in *Instance) Validate() error {
	v := &validation{}
	v.whole("/slot_min", in.SlotMin, 1, 1440)
	if !v.whole("/slots", in.Slots, 1, maxSlots) {
		return v.err()
	}
	v.whole("/starts_per_slot", in.StartsPerSlot, 0, maxBrewers*maxOptions)
	v.number("/store_g", in.StoreG, maxGrams)
	if in.SlotStarts != nil && len(in.SlotStarts) != in.Slots {
		v.add("/slot_starts", fmt.Sprintf("a list of %d numbers, one for each slot", in.Slots), "has %d", len(in.SlotStarts))
	}
	v.wholes("/slot_starts", in.SlotStarts, maxBrewers*maxOptions)
	v.resources(in)
	names := v.beverages(in)
	v.brewers(in, names)
	v.opening(in)
	v.ice(in)
	v.limits(in)
	return v.err()
}

func (v *validation) beverages(in *Instance) map[string]bool {
	names := map[string]bool{}
	if !v.length("/beverages", len(in.Beverages), 0, maxBeverages) {
		return names
	}
	if len(in.Beverages)*in.Slots > maxCells {
		v.add("/slots", fmt.Sprintf("slots × beverages at most %d", maxCells), "is too many for %d beverages", len(in.Beverages))
	}
	for i := range in.Beverages {
		b, p := &in.Beverages[i], fmt.Sprintf("/beverages/%d", i)
		v.name(p+"/name", b.Name, names)
		v.series(p+"/demand_g", b.DemandG, in.Slots)
		v.whole(p+"/ready_slots", b.ReadySlots, 0, maxSlots)
		v.whole(p+"/hold_slots", b.HoldSlots, 1, 100*maxSlots)
		v.number(p+"/unit_cost_per_kg", b.UnitCostPerKg, maxCost)
		v.number(p+"/disposal_cost_per_kg", b.DisposalPerKg, maxCost)
		v.number(p+"/short_cost_per_kg", b.ShortPerKg, maxCost)
		v.number(p+"/aging_cost_per_kg_h", b.AgingPerKgH, maxCost)
		v.number(p+"/carry_credit_per_kg", b.CarryCreditPerKg, maxCost)
		if !v.length(p+"/opening", len(b.Opening), 0, maxOpening) {
			continue
		}
		for k, o := range b.Opening {
			v.number(fmt.Sprintf("%s/opening/%d/g", p, k), o.G, maxGrams)
			v.whole(fmt.Sprintf("%s/opening/%d/expires_slot", p, k), o.ExpiresSlot, 0, 100*maxSlots)
			v.whole(fmt.Sprintf("%s/opening/%d/ready_slot", p, k), o.ReadySlot, 0, 100*maxSlots)
		}
	}
	return names
}

func (v *validation) brewers(in *Instance, beverages map[string]bool) {
	if !v.length("/brewers", len(in.Brewers), 0, maxBrewers) {
		return
	}
	names := map[string]bool{}
	for b := range in.Brewers {
		br, p := &in.Brewers[b], fmt.Sprintf("/brewers/%d", b)
		v.name(p+"/name", br.Name, names)
		if v.length(p+"/available", len(br.Available), 0, maxWindows) {
			for w, win := range br.Available {
				v.window(fmt.Sprintf("%s/available/%d", p, w), win, in.Slots)
			}
		}
		if v.length(p+"/options", len(br.Options), 0, maxOptions) {
			made := map[string]bool{}
			for k := range br.Options {
				v.option(fmt.Sprintf("%s/options/%d", p, k), &br.Options[k], in.Slots, beverages, made)
				v.work(fmt.Sprintf("%s/options/%d", p, k), &br.Options[k], in.Slots, len(in.WorkMin))
			}
		}
	}
}

func (v *validation) window(p string, w []int, slots int) {
	accepted := fmt.Sprintf("[from, to] with 0 ≤ from < to ≤ %d", slots)
	switch {
	case len(w) != 2:
		v.add(p, accepted, "has %d numbers", len(w))
	case w[0] >= w[1]:
		v.add(p, accepted, "[%d, %d] is empty", w[0], w[1])
	case w[0] < 0 || w[1] > slots:
		v.add(p, accepted, "[%d, %d] lies outside the horizon", w[0], w[1])
	}
}

func (v *validation) option(p string, o *Option, slots int, beverages, made map[string]bool) {
	switch {
	case !beverages[o.Beverage]:
		v.add(p+"/beverage", "the name of one of the beverages", "no beverage is called %q", o.Beverage)
	case made[o.Beverage]:
		v.add(p+"/beverage", "one option for each beverage of a brewer", "%q has an option already", o.Beverage)
	}
	made[o.Beverage] = true
	okMin, okMax := v.number(p+"/min_g", o.MinG, maxGrams), v.number(p+"/max_g", o.MaxG, maxGrams)
	switch {
	case okMin && okMax && o.MinG > o.MaxG:
		v.add(p+"/min_g", "at most max_g", "is %g, above max_g %g", o.MinG, o.MaxG)
	case okMax && o.MaxG == 0:
		v.add(p+"/max_g", "grams above 0", "is 0: an empty batch")
	}
	v.whole(p+"/busy_slots", o.BusySlots, 1, 100*maxSlots)
	v.number(p+"/batch_cost", o.BatchCost, maxCost)
	v.number(p+"/ice_per_g", o.IcePerG, 1000)
	v.whole(p+"/ice_slots", o.IceSlots, 0, 100*maxSlots)
	v.sizes(p, o)
	if o.ReadySlots != nil {
		v.whole(p+"/ready_slots", *o.ReadySlots, 0, 100*maxSlots)
	}
	if o.MayStart != nil && len(o.MayStart) != slots {
		v.add(p+"/may_start", fmt.Sprintf("a list of %d values, one for each slot", slots), "has %d", len(o.MayStart))
	}
}

func (v *validation) sizes(p string, o *Option) {
	if !v.length(p+"/sizes_g", len(o.SizesG), 0, maxSizes) {
		return
	}
	for k, g := range o.SizesG {
		at := fmt.Sprintf("%s/sizes_g/%d", p, k)
		switch {
		case !(g > 0 && g >= o.MinG && g <= o.MaxG):
			v.add(at, fmt.Sprintf("grams above 0, from %g to %g", o.MinG, o.MaxG), "is %g", g)
		case k > 0 && g <= o.SizesG[k-1]:
			v.add(at, "a size larger than the one before", "is %g after %g", g, o.SizesG[k-1])
		}
	}
	if o.SizesIceG != nil && len(o.SizesIceG) != len(o.SizesG) {
		v.add(p+"/sizes_ice_g", fmt.Sprintf("a list of %d numbers, one for each size", len(o.SizesG)), "has %d", len(o.SizesIceG))
		return
	}
	for k, g := range o.SizesIceG {
		if least := o.IcePerG * o.SizesG[k]; !(g >= least*(1-1e-9) && g <= maxGrams) {
			v.add(fmt.Sprintf("%s/sizes_ice_g/%d", p, k), fmt.Sprintf("a number from %g to %g", least, float64(maxGrams)), "is %g", g)
		}
	}
}

// opening checks that the opening stock fits the store: a surplus must be discarded before planning.
func (v *validation) opening(in *Instance) {
	if v.bad() {
		return
	}
	g := 0.0
	for _, b := range in.Beverages {
		for _, o := range b.Opening {
			if o.ReadySlot == 0 {
				g += o.G
			}
		}
	}
	if g > in.StoreG*(1+1e-12) {
		for i, b := range in.Beverages {
			if len(b.Opening) > 0 {
				v.add(fmt.Sprintf("/beverages/%d/opening", i), fmt.Sprintf("opening lots of at most store_g = %g g, over all beverages", in.StoreG),
					"the opening lots add up to %g g", g)
				return
			}
		}
	}
}

func (v *validation) ice(in *Instance) {
	if in.Ice == nil {
		return
	}
	ice := in.Ice
	okCap := v.number("/ice/capacity_g", ice.CapacityG, maxGrams)
	if v.number("/ice/opening_g", ice.OpeningG, maxGrams) && okCap && ice.OpeningG > ice.CapacityG {
		v.add("/ice/opening_g", "at most capacity_g", "is %g, above capacity_g %g", ice.OpeningG, ice.CapacityG)
	}
	v.series("/ice/make_g", ice.MakeG, in.Slots)
	v.series("/ice/serve_g", ice.ServeG, in.Slots)
	if ice.TakeG != nil {
		v.series("/ice/take_g", ice.TakeG, in.Slots)
	}
	if !(ice.LossPerSlot >= 0 && ice.LossPerSlot < 1) {
		v.add("/ice/loss_per_slot", "a share in [0, 1)", "is %g", ice.LossPerSlot)
	}
	v.number("/ice/short_cost_per_kg", ice.ShortPerKg, maxCost)
}

// validation collects field errors.
type validation struct {
	fields []models.FieldError
}

func (v *validation) bad() bool { return len(v.fields) > 0 }

func (v *validation) err() error {
	if !v.bad() {
		return nil
	}
	return &models.Error{Code: models.CodeInvalid, Message: "the batch instance is not valid", Fields: v.fields}
}

func (v *validation) add(pointer, accepted, format string, args ...any) {
	if len(v.fields) < 20 {
		v.fields = append(v.fields, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	}
}

func (v *validation) whole(pointer string, x, lo, hi int) bool {
	if x < lo || x > hi {
		v.add(pointer, fmt.Sprintf("a whole number from %d to %d", lo, hi), "is %d", x)
		return false
	}
	return true
}

func (v *validation) number(pointer string, x, most float64) bool {
	if !(x >= 0 && x <= most) {
		v.add(pointer, fmt.Sprintf("a number from 0 to %g", most), "is %g", x)
		return false
	}
	return true
}

func (v *validation) series(pointer string, xs []float64, slots int) {
	if len(xs) != slots {
		v.add(pointer, fmt.Sprintf("a list of %d numbers, one for each slot", slots), "has %d", len(xs))
		return
	}
	for t, x := range xs { // pointers are written for bad values alone: instances are evaluated often
		if !(x >= 0 && x <= maxGrams) {
			v.number(fmt.Sprintf("%s/%d", pointer, t), x, maxGrams)
			return
		}
	}
}

func (v *validation) wholes(pointer string, xs []int, most int) {
	for t, x := range xs {
		if x < 0 || x > most {
			v.whole(fmt.Sprintf("%s/%d", pointer, t), x, 0, most)
		}
	}
}

func (v *validation) length(pointer string, n, lo, hi int) bool {
	if n < lo || n > hi {
		v.add(pointer, fmt.Sprintf("a list of %d to %d entries", lo, hi), "has %d", n)
		return false
	}
	return true
}

func (v *validation) name(pointer, name string, seen map[string]bool) {
	switch {
	case name == "" || len(name) > maxName:
		v.add(pointer, fmt.Sprintf("a text of 1 to %d bytes", maxName), "has %d bytes", len(name))
	case seen[name]:
		v.add(pointer, "a name used once", "%q is used twice", name)
	}
	seen[name] = true
}
