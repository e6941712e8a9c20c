package planner

import (
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// another is how far a batch is moved to say what moving it would cost.
const another = 30 * time.Minute

// mostOtherwise bounds batches × slots of the plans whose batches are told so: it is a word beside the plan, not the plan.
const mostOtherwise = 20_000

// otherwise says what each planned batch would cost half an hour earlier, half an hour later, or left out, all else as it is. Like the
// ways out it is for a person who waits for the plan.
func (j *job) otherwise() [][]models.Otherwise {
	out := make([][]models.Otherwise, len(j.batches))
	if j.opt.WithoutWaysOut || len(out)*j.h.n > mostOtherwise {
		return out
	}
	step := max(1, int(another/j.h.slot))
	for i := range j.batches {
		without := slices.Delete(slices.Clone(j.result.Starts), i, i+1)
		out[i] = []models.Otherwise{j.moved("earlier", i, -step), j.moved("later", i, step), j.priced(models.Otherwise{Change: "left_out"}, without)}
	}
	return out
}

func (j *job) moved(change string, i, by int) models.Otherwise {
	o := models.Otherwise{Change: change}
	p := &j.batches[i]
	option := &j.options[p.option]
	slot := p.slot + by
	hands := 0
	for k := range j.batches {
		q := &j.batches[k]
		other := &j.options[q.option]
		if k == i {
			continue
		}
		if q.slot == slot {
			hands++
		}
		if other.brewer == option.brewer && slot < q.slot+other.busySlots && q.slot < slot+option.busySlots {
			o.Not = j.q.Say("plan.brewer_busy")
			return o
		}
	}
	switch {
	case slot < 0 || slot >= j.h.n || !option.may[slot]:
		o.Not = j.q.Say("plan.not_there")
		return o
	case hands >= j.in.SlotStarts[slot]:
		o.Not = j.q.Say("plan.no_hands")
		return o
	}
	starts := slices.Clone(j.result.Starts)
	starts[i].StartSlot = slot
	return j.priced(o, starts)
}

func (j *job) priced(o models.Otherwise, starts []batch.Start) models.Otherwise {
	r, err := batch.Evaluate(j.in, starts)
	if err != nil { // places and hands were looked at before
		o.Not = j.q.Say("plan.no_room")
		return o
	}
	o.Cost = r.Objective - j.result.Objective
	return o
}
