package say

import "hotday/planner/chill"

// What is said beside a calculation and beside work, keys of the catalogue. All of it defers to the local food code and to the people
// licensed to apply it.
const (
	CautionScald     = "care.scald"
	CautionGlass     = "care.glass"
	CautionIceFood   = "care.ice_food"
	CautionBathIce   = "care.bath_ice"
	CautionCooling   = "care.cooling"
	CautionHolding   = "care.holding"
	CautionSteeping  = "care.steeping"
	CautionMinerals  = "care.minerals"
	CautionFreezer   = "care.freezer"
	CautionCaffeine  = "care.caffeine"
	CautionEstimate  = "care.estimate"
	CautionHeat      = "care.heat"
	CautionScaleLime = "care.scale_lime"
)

// care says a caution.
func (v Voice) Caution(key string) string {
	return v.Say(key, "warm", v.Degrees(chill.DefaultCooling.HotC, 0), "cool", v.Degrees(chill.DefaultCooling.MiddleC, 0), "cold", v.Degrees(chill.SafeStoreC, 0))
}

// cares says cautions.
func (v Voice) Cautions(keys []string) []string {
	out := make([]string, 0, len(keys))
	for _, key := range keys {
		out = append(out, v.Caution(key))
	}
	return out
}
