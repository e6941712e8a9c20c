package models

import "time"

// MeasuredBrew is a brew of a coffee that was weighed, with its strength before ice; from two or more the maximum yield and the liquid
// retained by the grounds follow (calc fit). A coffee has one at a time.
type MeasuredBrew struct {
	Coffee     string    `json:"coffee" validate:"code"`
	At         time.Time `json:"at"`
	DoseG      float64   `json:"dose_g" validate:"gt=0,lte=1e5"`
	BrewWaterG float64   `json:"brew_water_g" validate:"gt=0,lte=1e6"`
	BeverageG  float64   `json:"beverage_g" validate:"gt=0,lte=1e6"` // as it leaves the brewer
	TDSPct     float64   `json:"tds_pct" validate:"gt=0,lte=30"`
	By         string    `json:"by,omitempty" opt:"true" validate:"max=200"` // who measured it; the service writes it
}

// MaxMeasuredBrews is the maximum number of measured brews that are listed of a coffee, the newest.
const MaxMeasuredBrews = 200
