package planner

import "hotday/planner/chill"

// What is said beside a calculation and beside work, keys of the catalogue. All of it defers to the local food code and to the people
// licensed to apply it.
const (
	careScald     = "care.scald"
	careGlass     = "care.glass"
	careIceFood   = "care.ice_food"
	careBathIce   = "care.bath_ice"
	careCooling   = "care.cooling"
	careHolding   = "care.holding"
	careSteeping  = "care.steeping"
	careMinerals  = "care.minerals"
	careFreezer   = "care.freezer"
	careCaffeine  = "care.caffeine"
	careEstimate  = "care.estimate"
	careHeat      = "care.heat"
	careScaleLime = "care.scale_lime"
)

// care says a caution.
func (v voice) care(key string) string {
	return v.Say(key, "warm", v.degrees(chill.DefaultCooling.HotC, 0), "cool", v.degrees(chill.DefaultCooling.MiddleC, 0), "cold", v.degrees(chill.SafeStoreC, 0))
}

// cares says cautions.
func (v voice) cares(keys []string) []string {
	out := make([]string, 0, len(keys))
	for _, key := range keys {
		out = append(out, v.care(key))
	}
	return out
}
