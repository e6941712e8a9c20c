package replay

import (
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/chill"
)

// Changes that a shop can buy or allow itself.
const (
	moreHoldH   = 2.0
	moreBaths   = 1
	largerBinBy = 0.5 // of its size
)

// ChangesToTry are those worth replaying in a shop: two more hours of hold for the hot-brewed coffee whose hold its own limit and its
// food safety rules leave room for, another ice bath, and an ice bin half as large again.
func ChangesToTry(s *models.Setup) []Change {
	var out []Change
	most := min(s.Site.MaxHoldH, chill.FoodRulesOf(&s.Site).HoldH(models.Flash))
	shortest := math.Inf(1)
	longer := func(b *models.Beverage) bool { return b.Method != models.Steeped && b.HoldH+moreHoldH <= most }
	for i := range s.Beverages {
		if b := &s.Beverages[i]; longer(b) {
			shortest = min(shortest, b.HoldH)
		}
	}
	if !math.IsInf(shortest, 1) {
		out = append(out, Change{Kind: models.AdviceHold, Was: shortest, Amount: moreHoldH, Apply: func(s models.Setup) models.Setup {
			s.Beverages = slices.Clone(s.Beverages)
			for i := range s.Beverages {
				if b := &s.Beverages[i]; longer(b) {
					b.HoldH += moreHoldH
				}
			}
			return s
		}})
	}
	if n := s.Site.Baths; n != nil && slices.ContainsFunc(s.Beverages, func(b models.Beverage) bool { return b.Bath }) {
		out = append(out, Change{Kind: models.AdviceBath, Was: float64(*n), Amount: moreBaths, Apply: func(s models.Setup) models.Setup {
			s.Site.Baths = new(*s.Site.Baths + moreBaths)
			return s
		}})
	}
	if bin := s.Ice.BinG; bin > 0 {
		more := math.Ceil(bin*largerBinBy/1000) * 1000
		out = append(out, Change{Kind: models.AdviceIceBin, Was: bin / 1000, Amount: more / 1000, Apply: func(s models.Setup) models.Setup {
			s.Ice.BinG += more
			return s
		}})
	}
	return out
}
