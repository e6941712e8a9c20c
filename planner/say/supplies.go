package say

import (
	"time"

	"hotday/models"
)

// SupplyAmount formats an amount of a supply in its unit, g, ml or piece: "6 L", "1.2 kg", "24". Below 1 L it is in mL.
func (w Writer) SupplyAmount(x float64, unit string) string {
	switch {
	case unit == "g":
		return w.GlanceMass(x)
	case unit == "ml" && x < 999.5 && !w.Gallons():
		return w.Number(x, 0) + NoBreak + "mL"
	case unit == "ml":
		return w.Volume(x / 1000)
	}
	return w.Number(x, 0)
}

// Supply says an amount of a supply in whole packs, or in whole cases where it is ordered in cases: "2 cases of milk", "24 tonic".
func (v Voice) Supply(s *models.Supply, amount float64, ordered bool) string {
	packs := s.PacksFor(amount)
	cases := s.CasesFor(packs)
	switch {
	case ordered && cases > 0:
		return v.Say("supplies.cases", "n", cases, "name", s.Name)
	case packs > 0 && s.Pack > 1:
		return v.Say("supplies.packs", "n", packs, "name", s.Name)
	case s.Unit == "piece":
		return v.Say("supplies.pieces", "amount", v.SupplyAmount(amount, s.Unit), "name", s.Name)
	}
	return v.Say("supplies.loose", "amount", v.SupplyAmount(amount, s.Unit), "name", s.Name)
}

// Soon formats an instant to act by as seen from now: by its weekday within six days, else with its date.
func (w Writer) Soon(t, now time.Time) string {
	if models.DateOf(t, w.loc) == models.DateOf(now, w.loc) {
		return w.At(t)
	}
	return w.Near(t, now)
}
