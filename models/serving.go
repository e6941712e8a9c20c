package models

// UsedG is what g grams in a serving take from stock on average, remakes and spills (remake_pct) included.
func (s *Site) UsedG(g float64) float64 { return g * (1 + s.RemakePct/100) }

// ServingIceUsedG is the ice for drinks that leaves the ice bin for a serving of a drink, g: its own with remakes, and the share of the
// jugs, soft drinks and staff (other_ice_pct).
func (s *Site) ServingIceUsedG(d *Drink) float64 {
	return s.UsedG(d.ServingIceG) * (1 + s.OtherIcePct/100)
}
