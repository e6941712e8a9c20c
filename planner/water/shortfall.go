package water

import "math"

// Property is a property of water that a target or a range is stated for.
type Property int

// The values of Property; hardness and alkalinity in mg/L as CaCO3, dissolved solids in mg/L.
const (
	CalciumHardness Property = iota
	MagnesiumHardness
	Alkalinity
	DissolvedSolids
)

// Miss is a property that the nearest water within reach has, Got, instead of the target's Want, mg/L as CaCO3. Above the target
// the source has more, and diluting further would take the rest too low; below it no salt on hand raises it.
type Miss struct {
	Property  Property
	Got, Want float64
}

// Misses returns the properties that miss the target; none if it is reachable.
func (d Dosing) Misses(t Target) []Miss {
	if d.Reachable {
		return nil
	}
	var out []Miss
	want := t.wanted()
	for q, off := range [quantities]float64{d.OffCalcium, d.OffMagnesium, d.OffAlkalinity} {
		if math.Abs(off) >= 0.05 {
			out = append(out, Miss{[quantities]Property{CalciumHardness, MagnesiumHardness, Alkalinity}[q], want[q] + off, want[q]})
		}
	}
	return out
}

// Tolerance for the effect of rounding: the larger of the two, mg/L as CaCO3 and share of the exact value.
const (
	roundedOffMg    = 3.0
	roundedOffShare = 0.05
)

// LeastVolume is the smallest volume, L, for which weighing to 0.1 g is fine enough; 0 if the dosed volume is large enough.
func (d Dosing) LeastVolume() float64 {
	exact, got := have(d.ExactResult), have(d.Resulting)
	enough := 0.0
	for _, a := range d.Exact {
		s, _ := saltNamed(a.Salt)
		q := s.of
		allowed := max(roundedOffMg, roundedOffShare*exact[q])
		if math.Abs(got[q]-exact[q]) > allowed {
			enough = max(enough, 0.05*have(s.perGram)[q]/allowed)
		}
	}
	return math.Ceil(enough)
}

// Imbalance is the charge balance error of the source, meq/L, positive for an excess of cations; 0 if it is within tolerance.
func Imbalance(source Ions) float64 {
	closed, off := source.Closed()
	if math.Abs(off) <= max(0.1, 0.05*(closed.cations()+closed.anions())) {
		return 0
	}
	return off
}
