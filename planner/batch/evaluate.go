package batch

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"hotday/models"
)

// Evaluate is the exact cost of the given starts and grams, with serving and ice optimised. An unknown or disallowed start, or
// a plan that exceeds the store, the brewers, the people or the ice, is a *models.Error of CodeInvalid that names the start.
// No bound is computed: LowerBound and GapPct are 0.
func Evaluate(in *Instance, starts []Start) (*Result, error) {
	if err := in.Validate(); err != nil {
		return nil, err
	}
	p := compile(in)
	p.whole = p.sized
	resolved, err := p.resolve(starts)
	if err != nil {
		return nil, err
	}
	if err := p.allowed(resolved); err != nil {
		return nil, err
	}
	r, ok := p.result(resolved)
	if !ok {
		return nil, p.exceeded(resolved)
	}
	return r, nil
}

// resolve finds the option of each start.
func (p *problem) resolve(starts []Start) ([]batchStart, error) {
	var own []batchStart
	for k, s := range starts {
		opt := -1
		for j := range p.opts {
			if o := &p.opts[j]; p.in.Brewers[o.brewer].Name == s.Brewer && p.in.Beverages[o.bev].Name == s.Beverage {
				opt = j
			}
		}
		if opt < 0 {
			return nil, models.Invalid(fmt.Sprintf("/starts/%d", k), "a brewer and a beverage that it makes", "%q does not make %q", s.Brewer, s.Beverage)
		}
		own = append(own, batchStart{opt: opt, slot: s.StartSlot, g: s.G})
	}
	return own, nil
}

// allowed returns an error for the first rule on brewers, people, baths and batch sizes that the starts break.
func (p *problem) allowed(starts []batchStart) error {
	people := make([]int, p.slots)
	for k, s := range starts {
		o, at := &p.opts[s.opt], fmt.Sprintf("/starts/%d", k)
		if s.slot < 0 || s.slot >= p.slots || !o.canStart[s.slot] {
			return models.Invalid(at+"/start_slot", "a slot from which the batch fits an available window and is ready within the horizon, with someone to start it",
				"slot %d is not one", s.slot)
		}
		if !(s.g >= o.min*(1-1e-9)-1e-6 && s.g <= o.max*(1+1e-9)+1e-6) {
			return models.Invalid(at+"/g", fmt.Sprintf("from %g to %g", o.min, o.max), "is %g", s.g)
		}
		if o.sizes != nil && math.Abs(o.sizes[o.nearest(s.g)]-s.g) > sizeTolG {
			return models.Invalid(at+"/g", "one of the option's sizes_g", "is %g", s.g)
		}
		if people[s.slot]++; people[s.slot] > p.people[s.slot] {
			return models.Invalid(at+"/start_slot", fmt.Sprintf("at most %d starts in slot %d", p.people[s.slot], s.slot), "is one too many")
		}
		for j, other := range starts[:k] {
			if q := &p.opts[other.opt]; q.brewer == o.brewer && s.slot < other.slot+q.busy && other.slot < s.slot+o.busy {
				return models.Invalid(at+"/start_slot", "a slot when the brewer is free", "the brewer is busy with start %d", j)
			}
		}
	}
	return p.resourceError(starts)
}

// exceeded returns an error that names the resource exceeded by the starts: ice or store.
func (p *problem) exceeded(starts []batchStart) error {
	if p.ice != nil {
		taken := make([]float64, p.slots)
		p.iceTaken(starts, taken)
		if _, ok := p.ice.run(taken, make([]float64, p.slots+1), nil); !ok {
			return models.Invalid("/starts", "batches with enough ice in the bin when they take it", "there is not enough ice to stir in")
		}
	}
	if err := p.exceededLimit(starts); err != nil {
		return err
	}
	for t, g := range p.levels(starts) {
		if g > p.store[t] {
			return models.Invalid("/starts", fmt.Sprintf("at most %g g in the cold store", p.store[t]), "slot %d ends with %g g", t, g)
		}
	}
	return models.Invalid("/starts", "grams that fit the store and the ice", "the grams do not fit together")
}

// sorted is a copy in order of time, then option.
func sorted(starts []batchStart) []batchStart {
	out := slices.Clone(starts)
	slices.SortFunc(out, func(a, b batchStart) int {
		return cmp.Or(cmp.Compare(a.slot, b.slot), cmp.Compare(a.opt, b.opt))
	})
	return out
}
