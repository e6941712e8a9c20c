package models

import "strings"

// Caution is the code of a safety caution. Documents carry it beside the text of the caution, which is in the site's language:
// programs read the code, people the text.
type Caution string

// The cautions.
const (
	CautionScald     Caution = "scald"      // hot brew and steam
	CautionGlass     Caution = "glass"      // hot liquid on ice shatters glass
	CautionIceFood   Caution = "ice_food"   // ice is food
	CautionBathIce   Caution = "bath_ice"   // ice that cooled a vessel is never served
	CautionCooling   Caution = "cooling"    // time from hot to cold
	CautionHolding   Caution = "holding"    // temperature of the cold store
	CautionSteeping  Caution = "steeping"   // low in acid and held long
	CautionMinerals  Caution = "minerals"   // food-grade salts, weighed, labelled
	CautionFreezer   Caution = "freezer"    // ice for drinks made in a freezer
	CautionCaffeine  Caution = "caffeine"   // an estimate
	CautionEstimate  Caution = "estimate"   // of a calculation that assumes full mixing
	CautionHeat      Caution = "heat"       // people at work in heat
	CautionScaleLime Caution = "scale_lime" // limescale in boilers
	CautionChart     Caution = "chart"      // beyond the chart of the heat index
)

// CautionKey identifies the cautions of a task: tasks with the same key have the same caution text. Tasks stored by earlier versions
// have no codes and are told apart by the text.
func (t *Task) CautionKey() string {
	if len(t.CautionCodes) == 0 {
		return t.Caution
	}
	var key strings.Builder
	for _, code := range t.CautionCodes {
		key.WriteString(string(code) + " ")
	}
	return key.String()
}
