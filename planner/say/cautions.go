package say

import (
	"slices"

	"hotday/models"
	"hotday/planner/chill"
)

// Caution words a caution.
func (v Voice) Caution(code models.Caution) string {
	return v.Say("care."+string(code), "warm", v.WholeTemp(chill.DefaultCooling.HotC), "cool", v.WholeTemp(chill.DefaultCooling.MiddleC),
		"cold", v.WholeTemp(chill.SafeStoreC))
}

// Cautions words cautions, one text for each code in order.
func (v Voice) Cautions(codes []models.Caution) []string {
	out := make([]string, 0, len(codes))
	for _, code := range codes {
		out = append(out, v.Caution(code))
	}
	return out
}

// NamesTheRules reports whether the text of a caution says itself whose rules come first: the local food safety authority's, or the
// water supplier's. Beside the others a page adds that.
func NamesTheRules(code models.Caution) bool {
	return slices.Contains([]models.Caution{models.CautionCooling, models.CautionHolding, models.CautionMinerals}, code)
}
