package models

import (
	"encoding/json"
	"time"
)

// Learnt is a shop's own physics as its marks and counts show it, with the changes of the set-up that they suggest.
type Learnt struct {
	MadeAt  time.Time      `json:"made_at"`
	From    time.Time      `json:"from"` // marks and counts since then
	Values  []LearntValue  `json:"values"`
	Changes []LearntChange `json:"changes"` // suggestions that were taken, newest first
}

// Kinds of LearntValue.
const (
	LearntIceMachine = "ice_machine" // output of an ice machine, kg a day at at_air_c
	LearntBinLoss    = "bin_loss"    // loss of the ice bin, % an hour
	LearntIceServed  = "ice_served"  // ice that leaves the bin with drinks, % of their serving ice
	LearntRetention  = "retention"   // liquid that the grounds of a beverage retain, g per g of coffee
	LearntStrength   = "strength"    // strength of a beverage, %
	LearntCooling    = "cooling"     // time in which a full batch of a beverage cools, min
	LearntHold       = "hold"        // how long a beverage really keeps, h
)

// LearntValue is a value of the set-up as the marks and counts show it.
type LearntValue struct {
	ID       string  `json:"id"` // kind, subject and, where there is one, brewer: "retention:House flash"
	Kind     string  `json:"kind"`
	Subject  string  `json:"subject"`           // code of the ice machine or beverage; empty: the ice bin
	Brewer   string  `json:"brewer,omitempty"`  // code, where a beverage is compared by brewer
	AirC     float64 `json:"at_air_c,omitzero"` // of an ice machine: the air temperature that the values are for
	FromC    float64 `json:"from_c,omitzero"`   // of cooling: the temperatures that it is timed between
	ToC      float64 `json:"to_c,omitzero"`
	SetUp    float64 `json:"set_up"`       // prior median: by the set-up
	PriorPct float64 `json:"prior_sd_pct"` // relative standard deviation of the lognormal prior, %
	N        int     `json:"n"`            // observations: spans between counts, batches, readings, batches that ended
	Value    float64 `json:"value"`        // posterior median
	Low      float64 `json:"low"`          // 90 % range
	High     float64 `json:"high"`
	Unit     string  `json:"unit"`

	Points []LearntPoint   `json:"points,omitempty"` // ice machine: by air temperature; cooling: by size of batch
	Note   string          `json:"note,omitempty"`   // why nothing is suggested, or a caution with the suggestion
	Change *LearntProposal `json:"change"`           // null: nothing to change
}

// Notes of a LearntValue.
const (
	LearntFew           = "few"            // too few observations
	LearntBrewersDiffer = "brewers_differ" // its brewers differ, and the set-up has one value for all
	LearntSlowerCooling = "slower_cooling" // batches cool more slowly than the set-up says: a matter of food safety
	LearntFasterCooling = "faster_cooling" // the change is towards the less careful value
	LearntShorterHold   = "shorter_hold"   // batches are thrown away before their use-by time
)

// LearntPoint is a learnt value as a function: of the air temperature, °C, or of the size of a batch, g.
type LearntPoint struct {
	At    float64 `json:"at"`
	SetUp float64 `json:"set_up"`
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// LearntProposal is a change of the set-up that the observations suggest.
type LearntProposal struct {
	Value float64       `json:"value"` // what the button says, in the unit of the LearntValue
	Set   []LearntField `json:"set"`
}

// LearntField is a field of the set-up with its values before and after a change, as JSON.
type LearntField struct {
	Pointer string          `json:"pointer"` // list items by their code: "/ice/makers/Bar maker/kg_per_day_rated"
	From    json.RawMessage `json:"from"`
	To      json.RawMessage `json:"to"`
}

// MaxLearntChanges is the number of changes of a site that are shown.
const MaxLearntChanges = 200

// LearntChange is a suggestion that was taken, with the old values. Undone ones stay on record.
type LearntChange struct {
	ID       string        `json:"id"`
	Of       string        `json:"of"` // ID of the LearntValue
	Value    float64       `json:"value"`
	SetUp    float64       `json:"set_up"` // before
	Unit     string        `json:"unit"`
	Set      []LearntField `json:"set"`
	At       time.Time     `json:"at"`
	By       string        `json:"by"`
	UndoneAt *time.Time    `json:"undone_at"`
	UndoneBy string        `json:"undone_by,omitempty"`
}
