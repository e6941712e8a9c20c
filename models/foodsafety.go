package models

import "time"

// Sets of food safety rules that a site can follow. Their values, with sources, are in chill.FoodRulesOf.
const (
	FoodRulesUS        = "us"
	FoodRulesUK        = "uk"
	FoodRulesEU        = "eu" // and Ireland
	FoodRulesStrictest = "strictest"
)

// FoodLimits are a site's own values in place of those of its set of rules; null keeps the set's value. A value laxer than the set's
// is warned about until somebody signs it off.
type FoodLimits struct {
	ColdC          *float64 `json:"cold_c,omitempty" validate:"omitempty,gte=-5,lte=15"`           // cold holding, at most
	CoolFirstMin   *float64 `json:"cool_first_min,omitempty" validate:"omitempty,gt=0,lte=1440"`   // first stage of cooling, at most
	CoolSecondMin  *float64 `json:"cool_second_min,omitempty" validate:"omitempty,gte=0,lte=2880"` // second stage
	HotBrewedHoldH *float64 `json:"hot_brewed_hold_h,omitempty" validate:"omitempty,gt=0,lte=336"` // flash and hot-chilled
	ColdBrewHoldH  *float64 `json:"cold_brew_hold_h,omitempty" validate:"omitempty,gt=0,lte=336"`  // steeped
}

// Codes of the food safety rules that a setting can break.
const (
	RuleColdHolding = "cold_store"  // site.store_temp_c is above the cold-holding limit
	RuleServedWarm  = "served_warm" // a beverage is stored and served above it
	RuleCooling     = "cooling"     // a beverage cools too slowly, or nobody knows how fast
	RuleHold        = "hold"        // a beverage is kept too long
	RuleSteepWarm   = "steep_warm"  // a beverage steeps above the cold-holding limit
)

// SignOff is a named person's acceptance of a setting that is laxer than the site's food safety rules.
type SignOff struct {
	Rule   string    `json:"rule" validate:"oneof=cold_store served_warm cooling hold steep_warm"`
	Of     string    `json:"of,omitempty" opt:"true" validate:"max=60"` // code of the beverage; empty: the site
	By     string    `json:"by" validate:"min=1,max=200"`
	Reason string    `json:"reason" validate:"min=1,max=500"`
	Value  float64   `json:"value"` // of the setting when it was accepted; a laxer one needs a new sign-off
	At     time.Time `json:"at"`
}

// SignedOff returns the sign-off that covers a setting with this value of a rule, of a beverage or, if of is "", of the site. For
// every rule a larger value is laxer.
func (s *Site) SignedOff(rule, of string, value float64) (SignOff, bool) {
	const rounding = 1e-6 // a value read back from a page may differ in its last digits
	for i := len(s.SignOffs) - 1; i >= 0; i-- {
		if x := s.SignOffs[i]; x.Rule == rule && x.Of == of && value <= x.Value*(1+rounding)+rounding {
			return x, true
		}
	}
	return SignOff{}, false
}
