package web

import (
	"math"
	"strings"

	"hotday/planner/say"
)

// amountEntry is what a control for an amount offers: named amounts and steps, so that nobody needs a keyboard. Amounts are in the
// unit Base.
type amountEntry struct {
	Unit     string  // of the number that may be typed
	Per      float64 // Base units in one Unit
	Base     string  // "g" or "L"
	Full     float64 // capacity; 0: unknown
	Max      float64 // largest possible amount; 0: no limit
	Named    []amountName
	Steps    []massStep
	Eighths  string // names of the levels of a vessel from empty to full, separated by "|"
	Expected float64
}

// amountName is an amount with its name: "about half", 16 kg.
type amountName struct {
	X         float64
	Say, Note string
}

// levelNames are the levels of a vessel in eighths, from empty to full.
var levelNames = []string{"amount.empty", "amount.eighth", "amount.quarter", "amount.three_eighths", "amount.half", "amount.five_eighths", "amount.three_quarters", "amount.seven_eighths", "amount.full"}

// newAmountEntry offers the quarters of a vessel that holds full and steps of an eighth of it, or else round amounts up to somewhat more
// than most, each with the steps given.
func newAmountEntry(q voice, base string, full, most float64, steps []massStep) amountEntry {
	e := amountEntry{Unit: q.MassUnit(), Base: base, Full: full, Steps: steps}
	words := q.GlanceMass
	if base == "L" {
		e.Unit, words = q.VolumeUnit(), q.Volume
	}
	e.Per = say.Per(e.Unit)
	if full <= 0 {
		for _, x := range roundAmounts(most, e.Per) {
			e.Named = append(e.Named, amountName{X: x, Say: words(x)})
		}
		return e
	}
	var names []string
	for k, key := range levelNames {
		names = append(names, q.Say(key))
		if x := full * float64(k) / 8; k == 0 {
			e.Named = append(e.Named, amountName{Say: q.Say(key)})
		} else if k%2 == 0 {
			e.Named = append(e.Named, amountName{X: x, Say: q.Say(key), Note: words(x)})
		}
	}
	e.Eighths = strings.Join(names, "|")
	e.Steps = append([]massStep{{-full / 8, q.Say("amount.less_eighth")}, {full / 8, q.Say("amount.more_eighth")}}, steps...)
	return e
}

// roundAmounts returns 0 and five equal steps of a round size that reach a quarter beyond most, in units of per.
func roundAmounts(most, per float64) []float64 {
	step := 0.1
	for _, s := range []float64{0.1, 0.25, 0.5, 1, 2, 5, 10, 20, 50} {
		if step = s; 5*s*per >= 1.25*most {
			break
		}
	}
	out := make([]float64, 6)
	for k := range out {
		out[k] = float64(k) * step * per
	}
	return out
}

// jugSteps are steps of a jug and a quarter of one.
func jugSteps(q voice, jugG float64) []massStep {
	return []massStep{{-jugG, q.Say("amount.less_jug")}, {-jugG / 4, q.Say("amount.less_quarter_jug")}, {jugG / 4, q.Say("amount.more_quarter_jug")}, {jugG, q.Say("amount.more_jug")}}
}

// jugAmounts are whole jugs up to more than most.
func jugAmounts(q voice, jugG, most float64) []amountName {
	var out []amountName
	for n := range min(mostJugs, max(5, int(math.Ceil(1.25*most/jugG)))) + 1 {
		out = append(out, amountName{X: float64(n) * jugG, Say: q.Say("kitchen.jugs", "n", n), Note: q.GlanceMass(float64(n) * jugG)})
	}
	return out
}

// volumeSteps are round volumes in the site's units.
func volumeSteps(q voice) []massStep {
	steps := []massStep{{-5, ""}, {-1, ""}, {1, ""}, {5, ""}}
	if q.Gallons() {
		gal := say.Per("gal")
		steps = []massStep{{-gal, ""}, {-gal / 4, ""}, {gal / 4, ""}, {gal, ""}}
	}
	for i, s := range steps {
		steps[i].Say = signed(s.G, q.Volume(math.Abs(s.G)))
	}
	return steps
}

// largeSteps are the steps for ice: about a scoop and a bucket.
func largeSteps(q voice) []massStep {
	small, large := 1000.0, 5000.0
	if q.Pounds() {
		small, large = say.Per("lb"), 10*say.Per("lb")
	}
	steps := []massStep{{-large, ""}, {-small, ""}, {small, ""}, {large, ""}}
	for i, s := range steps {
		steps[i].Say = signed(s.G, q.GlanceMass(math.Abs(s.G)))
	}
	return steps
}

// vesselSteps are the steps beside those of an eighth.
func vesselSteps(steps []massStep) []massStep { return steps[1:3] }

// signed adds a plus or minus sign to an amount and drops a decimal .0.
func signed(x float64, amount string) string {
	amount = roundOne.ReplaceAllString(amount, "$1")
	if x < 0 {
		return "−" + amount
	}
	return "+" + amount
}
