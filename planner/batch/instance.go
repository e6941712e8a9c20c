package batch

import (
	"hotday/models"
)

// Instance is one batch scheduling problem: the JSON document of `calc batches`. Fields without a JSON name extend it for
// callers in Go; their zero values have no effect.
type Instance struct {
	SlotMin       int        `json:"slot_min"`                    // minutes in a slot, ≥ 1
	Slots         int        `json:"slots"`                       // slots in the horizon, ≥ 1
	StartsPerSlot int        `json:"starts_per_slot" default:"1"` // batches that people can start in one slot, over all brewers
	StoreG        float64    `json:"store_g"`                     // capacity of the cold store, g over all beverages
	Beverages     []Beverage `json:"beverages" validate:"max=64"`
	Brewers       []Brewer   `json:"brewers" validate:"max=64"`
	Ice           *Ice       `json:"ice,omitempty"` // nil: no ice constraint

	// SlotStarts, if not nil, overrides StartsPerSlot by slot.
	SlotStarts []int `json:"-"`
	// Limits bound what batches take of other supplies.
	Limits []Limit `json:"-"`
	// WorkMin, if not nil, is the time that people have for batches, min by window; see Option.Work.
	WorkMin []float64 `json:"-"`
	// Baths, if not nil, is the number of ice baths free in each slot.
	Baths []int `json:"-"`
}

// Beverage is one cold beverage with its demand, lead time, shelf life and costs.
type Beverage struct {
	Name             string    `json:"name"`
	DemandG          []float64 `json:"demand_g" validate:"max=3000"`     // by slot
	ReadySlots       int       `json:"ready_slots"`                      // lead time from the start of a batch until it is ready
	HoldSlots        int       `json:"hold_slots"`                       // shelf life once ready, ≥ 1
	UnitCostPerKg    float64   `json:"unit_cost_per_kg"`                 // of making
	DisposalPerKg    float64   `json:"disposal_cost_per_kg" default:"0"` // of waste
	ShortPerKg       float64   `json:"short_cost_per_kg"`                // of unmet demand
	AgingPerKgH      float64   `json:"aging_cost_per_kg_h" default:"0"`  // per hour from ready to served
	CarryCreditPerKg float64   `json:"carry_credit_per_kg" default:"0"`  // for stock that expires after the horizon
	Opening          []Opening `json:"opening" validate:"max=200"`

	// CarryAfter, if beyond the horizon, is the slot that a lot must outlast to be carried over: what expires up to it is waste, as
	// nothing is sold between the horizon and that slot.
	CarryAfter int `json:"-"`
}

// Opening is a lot in stock, or under way, before the first slot.
type Opening struct {
	G           float64 `json:"g"`
	ExpiresSlot int     `json:"expires_slot"` // exclusive

	// ReadySlot is the first slot in which it can be served, above 0 for a batch under way. Aging begins there, and storage
	// EarlySlots before.
	ReadySlot  int `json:"-"`
	EarlySlots int `json:"-"`
}

// Brewer is one machine or vessel.
type Brewer struct {
	Name      string   `json:"name"`
	Available [][]int  `json:"available" validate:"max=400"` // windows [from, to), each batch within one of them; null means always, [] never
	Options   []Option `json:"options" validate:"max=64"`
}

// Option is a type of batch that a brewer can make.
type Option struct {
	Beverage  string  `json:"beverage"`
	MinG      float64 `json:"min_g"`
	MaxG      float64 `json:"max_g"`
	BusySlots int     `json:"busy_slots"` // slots that it occupies the brewer, ≥ 1
	BatchCost float64 `json:"batch_cost"`
	IcePerG   float64 `json:"ice_per_g" default:"0"` // ice stirred in per gram of beverage
	IceSlots  int     `json:"ice_slots" default:"0"` // from the start until the ice is taken

	// SizesG are the batch sizes, ascending, each from min_g to max_g; empty: any. The lower bound is for any size from min_g to max_g.
	SizesG []float64 `json:"sizes_g" validate:"max=1000"`
	// SizesIceG, if not nil, overrides IcePerG by size. None may be below IcePerG, so that the lower bound holds.
	SizesIceG []float64 `json:"-"`

	// ReadySlots, if not nil, overrides the beverage's.
	ReadySlots *int `json:"-"`
	// EarlySlots is how long before it can be served a batch is in the store, at most its lead time: it is stored from the minute
	// at which it is ready, but served from the next slot on.
	EarlySlots int `json:"-"`
	// MayStart, if not nil, lists by slot whether people can start it.
	MayStart []bool `json:"-"`
	// Work, if not nil, lists by start slot the work of a batch in each window of WorkMin.
	Work [][]WorkUse `json:"-"`
	// BathFrom and BathTo are the slots [from, to) from its start in which a batch occupies an ice bath; equal: none.
	BathFrom int `json:"-"`
	BathTo   int `json:"-"`
}

// Ice is the ice for drinks, shared by batches and glasses.
type Ice struct {
	OpeningG    float64   `json:"opening_g"`
	CapacityG   float64   `json:"capacity_g"`
	MakeG       []float64 `json:"make_g" validate:"max=3000"`  // output, by slot; an upper limit
	ServeG      []float64 `json:"serve_g" validate:"max=3000"` // demand of glasses, by slot
	LossPerSlot float64   `json:"loss_per_slot"`               // share melted in a slot, in [0, 1)
	ShortPerKg  float64   `json:"short_cost_per_kg"`

	// TakeG, if not nil, is taken by batches that are fixed, by slot. They get their ice before glasses do; there must be enough.
	TakeG []float64 `json:"-"`
}

// Start is one batch of a plan.
type Start struct {
	Brewer    string  `json:"brewer"`
	Beverage  string  `json:"beverage"`
	StartSlot int     `json:"start_slot"`
	G         float64 `json:"g"`
}

// Parse decodes one instance strictly and validates it. Optional fields and their defaults: starts_per_slot (1), the costs of
// disposal and aging and the carry credit (0), ice_per_g and ice_slots (0), available (always), opening and ice (none).
// Errors are *models.Error: CodeMalformed if it cannot be decoded, CodeInvalid if a rule is broken.
func Parse(data []byte) (*Instance, error) {
	in := &Instance{}
	if err := models.DecodeStrict(data, in); err != nil {
		return nil, err
	}
	if err := in.Validate(); err != nil {
		return nil, err
	}
	return in, nil
}
