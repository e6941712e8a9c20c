package calc

import (
	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/say"
)

type heatIndexIn struct {
	TempC       float64 `json:"temp_c"`
	HumidityPct float64 `json:"humidity_pct"`
}

type heatIndexOut struct {
	HeatIndexC float64 `json:"heat_index_c"`
	remarks
}

// calcHeatIndex finds the apparent temperature.
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
	out.say("calc.heat_index", "temp", decimal(in.TempC), "humidity", decimal(in.HumidityPct), "feels", say.Number(out.HeatIndexC, 0))
	switch {
	case out.HeatIndexC > 58:
		out.caution(models.CautionChart, models.CautionHeat)
	case out.HeatIndexC >= 32:
		out.caution(models.CautionHeat)
	case in.TempC < 15:
		out.warn("calc.heat_index.cool")
	}
	return out, nil
}
