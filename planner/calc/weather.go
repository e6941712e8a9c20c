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

// Between these the heat index means something, °C: the weather service takes the air temperature below 40 °F, and its chart ends at 137 °F
// (from memory).
const (
	coolestHeatIndexC = 4.4
	hottestHeatIndexC = 58.4
)

// calcHeatIndex finds the apparent temperature.
func calcHeatIndex(v say.Voice, body []byte) (any, error) {
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
	feels := demand.HeatIndex(in.TempC, in.HumidityPct)
	switch { // the formula has nothing to say there
	case in.TempC < coolestHeatIndexC:
		r.add("/temp_c", "4.4 °C or more: below it heat is not what people feel", "%g °C is too cold for a heat index", in.TempC)
	case feels > hottestHeatIndexC:
		r.add("/temp_c", "air and humidity whose heat index is at most 58 °C, where the weather service's chart ends", "%g °C at %g%% humidity is beyond it, and dangerously hot", in.TempC, in.HumidityPct)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	out := heatIndexOut{HeatIndexC: feels, remarks: newRemarks(v)}
	out.say("calc.heat_index", "temp", typed(v, in.TempC), "humidity", typed(v, in.HumidityPct), "feels", v.Number(out.HeatIndexC, 0))
	switch {
	case out.HeatIndexC >= 32:
		out.caution(models.CautionHeat)
	case in.TempC < 15:
		out.warn("calc.heat_index.cool")
	}
	return out, nil
}
