package water

import (
	"fmt"
	"math"
	"strings"
)

// ReachSay says what of the target cannot be reached and what the nearest is, "" where it can.
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

// Rounding that still counts as the target: the larger of both, mg/L as CaCO3 and part of the exact value.
const (
	roundedOffMg    = 3.0
	roundedOffShare = 0.05
)

// RoundingSay says where weighing to 0.1 g misses what the exact dose would give in volumeL L, and the volume from which it
// does not; "" where it hits.
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

// ChargeSay says that the ions of the source do not balance, "" where they nearly do.
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
