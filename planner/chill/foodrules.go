package chill

import (
	"cmp"

	"hotday/models"
)

// FoodRules are the limits of cooling, cold holding and shelf life that a shop follows. They are presets from memory, without the
// documents at hand: every shop has to check them with its authority, and local rules take precedence.
type FoodRules struct {
	Code           string
	ColdC          float64         // cold holding, at most
	Cooling        []CoolingLimits // every one of them must be met
	HotBrewedHoldH float64         // flash and hot-chilled coffee, from ready to use-by
	ColdBrewHoldH  float64
	Values         []RuleValue
}

// RuleValue is one value of a set of rules with the code of its source, for the page that shows them.
type RuleValue struct {
	Rule   string // see the models.Rule constants
	Value  float64
	Unit   string // "°C", "h"
	Source string // code of a text: rule_source.SOURCE
}

// Hold times that are common practice, no source: coffee brewed hot the same day, cold brew 3 to 7 days when strained and held at
// 5 °C or colder.
const (
	sameDayH     = 24.0
	threeDaysH   = 72.0
	LongestHoldH = 168.0 // of any beverage, in every set
)

var foodRules = map[string]FoodRules{
	// FDA Food Code 2022: 3-501.14 cooling, 3-501.16 cold holding, 3-501.17 seven days at 5 °C (from memory).
	models.FoodRulesUS: {ColdC: SafeStoreC, Cooling: []CoolingLimits{DefaultCooling}, HotBrewedHoldH: LongestHoldH, ColdBrewHoldH: LongestHoldH,
		Values: []RuleValue{{models.RuleColdHolding, SafeStoreC, "°C", "fda_cold"}, {models.RuleCooling, 6, "h", "fda_cooling"},
			{models.RuleHold, LongestHoldH, "h", "fda_date"}}},
	// Food Safety and Hygiene (England) Regulations 2013, schedule 4: 8 °C; the Food Standards Agency recommends 5 °C, and cooling
	// within one to two hours (from memory). No hold time is set.
	models.FoodRulesUK: {ColdC: 8, Cooling: []CoolingLimits{{HotC: 63, MiddleC: 8, ColdC: 8, FirstMin: 120}}, HotBrewedHoldH: threeDaysH, ColdBrewHoldH: threeDaysH,
		Values: []RuleValue{{models.RuleColdHolding, 8, "°C", "uk_cold"}, {models.RuleCooling, 2, "h", "uk_cooling"}, {models.RuleHold, threeDaysH, "h", "practice"}}},
	// Food Safety Authority of Ireland, Guidance Note 15: 63 °C to 10 °C within 2.5 h, held at 5 °C or colder (from memory); Regulation
	// (EC) 852/2004 itself gives no figures. From 10 °C on, the FDA's 4 h stand in for a figure of its own.
	models.FoodRulesEU: {ColdC: SafeStoreC, Cooling: []CoolingLimits{{HotC: 63, MiddleC: 10, ColdC: SafeStoreC, FirstMin: 150, SecondMin: 240}}, HotBrewedHoldH: threeDaysH, ColdBrewHoldH: threeDaysH,
		Values: []RuleValue{{models.RuleColdHolding, SafeStoreC, "°C", "ie_cold"}, {models.RuleCooling, 2.5, "h", "ie_cooling"}, {models.RuleHold, threeDaysH, "h", "practice"}}},
}

// FoodRulesOf returns the set of rules with a code, the strictest for "" and for an unknown one, with the site's own values in it.
func FoodRulesOf(site *models.Site) FoodRules {
	r := Preset(site.FoodRules)
	if o := site.FoodLimits; o != nil {
		r.ColdC = or(o.ColdC, r.ColdC)
		r.HotBrewedHoldH, r.ColdBrewHoldH = or(o.HotBrewedHoldH, r.HotBrewedHoldH), or(o.ColdBrewHoldH, r.ColdBrewHoldH)
		cooling := make([]CoolingLimits, len(r.Cooling))
		for i, l := range r.Cooling {
			l.ColdC = r.ColdC
			l.MiddleC = max(l.MiddleC, l.ColdC)
			l.FirstMin, l.SecondMin = or(o.CoolFirstMin, l.FirstMin), or(o.CoolSecondMin, l.SecondMin)
			cooling[i] = l
		}
		r.Cooling = cooling
	}
	return r
}

func or(own *float64, preset float64) float64 {
	if own != nil {
		return *own
	}
	return preset
}

// Preset returns a set of rules as it comes; see FoodRulesOf.
func Preset(code string) FoodRules {
	if r, ok := foodRules[code]; ok {
		r.Code = code
		return r
	}
	us, uk, eu := foodRules[models.FoodRulesUS], foodRules[models.FoodRulesUK], foodRules[models.FoodRulesEU]
	r := FoodRules{Code: models.FoodRulesStrictest, ColdC: min(us.ColdC, uk.ColdC, eu.ColdC), HotBrewedHoldH: sameDayH, ColdBrewHoldH: threeDaysH}
	for _, set := range []FoodRules{us, uk, eu} {
		r.Cooling = append(r.Cooling, set.Cooling...)
	}
	r.Values = []RuleValue{{models.RuleColdHolding, r.ColdC, "°C", "fda_cold"}, {models.RuleCooling, 2, "h", "uk_cooling"}, {models.RuleHold, sameDayH, "h", "practice_same_day"}, {models.RuleHold, threeDaysH, "h", "practice"}}
	return r
}

// HoldH is the longest hold of a method, h.
func (r FoodRules) HoldH(method string) float64 {
	if method == models.Steeped {
		return min(r.ColdBrewHoldH, LongestHoldH)
	}
	return min(r.HotBrewedHoldH, LongestHoldH)
}

// Laxer lists the site's own limits that are laxer than the preset, as rule and value.
func Laxer(site *models.Site) []RuleValue {
	var out []RuleValue
	p, own := Preset(site.FoodRules), site.FoodLimits
	if own == nil {
		return nil
	}
	if own.ColdC != nil && *own.ColdC > p.ColdC {
		out = append(out, RuleValue{Rule: models.RuleColdHolding, Value: *own.ColdC, Unit: "°C"})
	}
	slowest := func(of func(CoolingLimits) float64) float64 {
		least := of(p.Cooling[0])
		for _, l := range p.Cooling {
			least = min(least, of(l))
		}
		return least
	}
	first, second := slowest(func(l CoolingLimits) float64 { return l.FirstMin }), slowest(func(l CoolingLimits) float64 { return l.SecondMin })
	if min1, min2 := or(own.CoolFirstMin, first), or(own.CoolSecondMin, second); min1 > first || min2 > second {
		out = append(out, RuleValue{Rule: models.RuleCooling, Value: cmp.Or(min1+min2, min1), Unit: "min"})
	}
	if h := or(own.HotBrewedHoldH, 0); h > p.HotBrewedHoldH {
		out = append(out, RuleValue{Rule: models.RuleHold, Value: h, Unit: "h"})
	}
	if h := or(own.ColdBrewHoldH, 0); h > p.ColdBrewHoldH {
		out = append(out, RuleValue{Rule: models.RuleHold, Value: h, Unit: "h"})
	}
	return out
}
