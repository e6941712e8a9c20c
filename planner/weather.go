package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// airBySlot returns the air temperature of each slot, °C, which slots have a forecast, and the number of hours without. Such an hour takes
// the hottest value that the request has for its time of day, else models.UnknownHottestC.
func airBySlot(st *setting) (air []float64, forecast []bool, gaps int) {
	rows := append([]models.WeatherHour(nil), st.req.Weather...)
	sort.SliceStable(rows, func(a, b int) bool { return rows[a].At.Before(rows[b].At) })
	hottest := map[int]float64{}
	for _, w := range rows {
		h := w.At.In(st.loc).Hour()
		if x, ok := hottest[h]; !ok || w.TempC > x {
			hottest[h] = w.TempC
		}
	}
	air, forecast = make([]float64, st.h.n), make([]bool, st.h.n)
	gap := -1
	for t := range air {
		at := st.h.at(t)
		i := sort.Search(len(rows), func(i int) bool { return rows[i].At.After(at) }) - 1
		if i >= 0 && at.Sub(rows[i].At) < time.Hour {
			air[t], forecast[t] = rows[i].TempC, true
			continue
		}
		air[t] = models.UnknownHottestC
		if x, ok := hottest[at.Hour()]; ok {
			air[t] = x
		}
		if h := int(at.Sub(st.h.start) / time.Hour); h != gap {
			gap = h
			gaps++
		}
	}
	return air, forecast, gaps
}

// warmestForecast is the highest temperature forecast for the horizon, °C; nil: no hour of it has a forecast.
func (kt *kitchen) warmestForecast() *float64 {
	var warmest *float64
	for t, c := range kt.air {
		if kt.forecast[t] && (warmest == nil || c > *warmest) {
			warmest = &c
		}
	}
	return warmest
}

// forecastAge is how long before the plan its weather forecast was issued; ok is false where the request doesn't say or has none.
func (st *setting) forecastAge() (age time.Duration, ok bool) {
	issued := st.req.WeatherIssuedAt
	if issued == nil || len(st.req.Weather) == 0 {
		return 0, false
	}
	return max(0, st.req.Now.Sub(*issued)), true
}
