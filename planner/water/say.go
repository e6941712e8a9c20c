package water

import (
	"fmt"
	"math"
	"strings"
)

// ReachSay names the quantities that miss the target, with the nearest values; "" if the target is reachable.
func (d Dosing) ReachSay(t Target) string {
	if d.Reachable {
		return ""
	}
	var parts []string
	want := t.wanted()
	for q, off := range [quantities]float64{d.OffCalcium, d.OffMagnesium, d.OffAlkalinity} {
		if math.Abs(off) < 0.05 {
			continue
		}
		name := [quantities]string{"calcium hardness", "magnesium hardness", "alkalinity"}[q]
		why := "no salt on hand raises it"
		if off > 0 {
			why = "the source has more, and diluting further would take the rest too low"
		}
		parts = append(parts, fmt.Sprintf("%s comes to %.1f instead of %.1f mg/L as CaCO3 (%s)", name, want[q]+off, want[q], why))
	}
	if len(parts) == 0 {
		return ""
	}
	return "the target cannot be reached; the nearest: " + strings.Join(parts, ", ")
}

// Tolerance for the effect of rounding: the larger of the two, mg/L as CaCO3 and share of the exact value.
const (
	roundedOffMg    = 3.0
	roundedOffShare = 0.05
)

// RoundingSay warns if weighing to 0.1 g is too coarse for volumeL L, with the smallest volume for which it is not; "" if it is
// fine.
func (d Dosing) RoundingSay(volumeL float64) string {
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
	if enough == 0 {
		return ""
	}
	return fmt.Sprintf("weighing to 0.1 g is too coarse for %g L: make %.0f L at least, or dose from a weighed concentrate", volumeL, math.Ceil(enough))
}

// ChargeSay warns if the ions of the source are out of charge balance; "" if they are within tolerance.
func (d Dosing) ChargeSay(source Ions) string {
	closed, off := source.Closed()
	scale := closed.cations() + closed.anions()
	if math.Abs(off) <= max(0.1, 0.05*scale) {
		return ""
	}
	over := "cations"
	if off < 0 {
		over = "anions"
	}
	return fmt.Sprintf("the source's ions do not balance: %.2f meq/L of %s are over; check the analysis", math.Abs(off), over)
}
