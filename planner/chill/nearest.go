package chill

import (
	"fmt"
	"math"
	"strings"
)

// Nearest holds single changes that each bring a mix to a target its ice does not reach, rounded to the safe side. A field is
// NaN if that change alone is not enough.
type Nearest struct {
	Reaches  bool    // the mix reaches the target as it is; the other fields then repeat its values
	PrecoolC float64 // temperature to pre-cool the beverage to, whole °C
	IceG     float64 // mass of ice, to 5 g (1 g below 100 g)
	IceC     float64 // temperature of the ice, whole °C, at least −30
}

// coldestIce is the lowest ice temperature from a shop's freezer, °C.
const coldestIce = -30

// NearestTo computes the changes that reach targetC, °C.
func (m Mix) NearestTo(targetC float64) Nearest {
	n := Nearest{PrecoolC: math.NaN(), IceG: math.NaN(), IceC: math.NaN()}
	ice, ok := m.IceFor(targetC)
	if ok && ice <= m.IceG*(1+1e-12) {
		return Nearest{Reaches: true, PrecoolC: m.BeverageC, IceG: m.IceG, IceC: m.IceC}
	}
	if ok {
		n.IceG = roundUpIce(ice)
	}
	if t, ok := m.PrecoolFor(targetC); ok && math.Floor(t+1e-9) >= 0 {
		n.PrecoolC = math.Floor(t + 1e-9)
	}
	if c, ok := m.IceColdEnoughFor(targetC); ok && math.Floor(c+1e-9) >= coldestIce {
		n.IceC = math.Floor(c + 1e-9)
	}
	return n
}

func roundUpIce(g float64) float64 {
	step := 5.0
	if g < 100 {
		step = 1
	}
	return math.Ceil(g/step-1e-9) * step
}

// Say explains in one sentence that the mix does not reach targetC and offers the changes of NearestTo: "300 g of ice cannot
// bring 850 g from 72 °C to 6 °C: let it cool to 38 °C first, or stir in 605 g". "" if it does. share is an ice share of the
// recipe that would be enough; NaN leaves it out.
func (m Mix) Say(targetC, share float64) string {
	n := m.NearestTo(targetC)
	if n.Reaches {
		return ""
	}
	var ways []string
	if !math.IsNaN(n.PrecoolC) {
		ways = append(ways, fmt.Sprintf("let it cool to %.0f °C first", n.PrecoolC))
	}
	if !math.IsNaN(n.IceC) {
		ways = append(ways, fmt.Sprintf("use ice of %.0f °C or colder", n.IceC))
	}
	if !math.IsNaN(n.IceG) {
		ways = append(ways, fmt.Sprintf("stir in %.0f g", n.IceG))
	}
	if !math.IsNaN(share) {
		ways = append(ways, fmt.Sprintf("make %.0f %% of the recipe's water ice", math.Ceil(share*100-1e-9)))
	}
	head := fmt.Sprintf("%s of ice cannot bring %s from %s to %s", grams(m.IceG), grams(m.BeverageG), degrees(m.BeverageC), degrees(targetC))
	if m.IceG == 0 {
		head = fmt.Sprintf("without ice %s does not get from %s to %s", grams(m.BeverageG), degrees(m.BeverageC), degrees(targetC))
	}
	if len(ways) == 0 {
		return head + ": this ice has no cold to give; drain it, or use colder ice"
	}
	return head + ": " + strings.Join(ways, ", or ")
}

func grams(g float64) string {
	if g < 10 {
		return fmt.Sprintf("%.1f g", g)
	}
	return fmt.Sprintf("%.0f g", g)
}

func degrees(c float64) string {
	if math.Abs(c-math.Round(c)) < 0.05 {
		return fmt.Sprintf("%.0f °C", c)
	}
	return fmt.Sprintf("%.1f °C", c)
}
