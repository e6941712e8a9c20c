package calc

import (
	"fmt"

	"hotday/models"
	"hotday/planner/demand"
)

type heatIndexIn struct {
	TempC       float64 `json:"temp_c"`
	HumidityPct float64 `json:"humidity_pct"`
}

type heatIndexOut struct {
	HeatIndexC float64 `json:"heat_index_c"`
	remarks
}

// calcHeatIndex is the apparent temperature.
func calcHeatIndex(body []byte) (any, error) {
	var in heatIndexIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/temp_c", in.TempC, -60, 60, degreeUnit)
	r.within("/humidity_pct", in.HumidityPct, 0, 100, percentUnit)
	if err := r.err(); err != nil {
		return nil, err
	}
	out := heatIndexOut{HeatIndexC: demand.HeatIndex(in.TempC, in.HumidityPct), remarks: newRemarks()}
	out.say(fmt.Sprintf("%s °C at %s %% humidity feels like %.0f °C in the shade.", inWords(in.TempC), inWords(in.HumidityPct), out.HeatIndexC))
	switch {
	case out.HeatIndexC > 58:
		out.caution(models.CautionChart, models.CautionHeat)
	case out.HeatIndexC >= 32:
		out.caution(models.CautionHeat)
	case in.TempC < 15:
		out.warn("The index is made for warm air; below about 20 °C it says little.")
	}
	return out, nil
}
