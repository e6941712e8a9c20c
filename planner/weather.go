package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// airBySlot returns the air temperature of each slot, °C, and the number of hours without weather. Such an hour takes the hottest
// value that the request has for its time of day, else models.UnknownHottestC.
func airBySlot(st *setting) (air []float64, gaps int) {
	rows := append([]models.WeatherHour(nil), st.req.Weather...)
	sort.SliceStable(rows, func(a, b int) bool { return rows[a].At.Before(rows[b].At) })
	hottest := map[int]float64{}
	for _, w := range rows {
		h := w.At.In(st.loc).Hour()
		if x, ok := hottest[h]; !ok || w.TempC > x {
			hottest[h] = w.TempC
		}
	}
	air = make([]float64, st.h.n)
	gap := -1
	for t := range air {
		at := st.h.at(t)
		i := sort.Search(len(rows), func(i int) bool { return rows[i].At.After(at) }) - 1
		if i >= 0 && at.Sub(rows[i].At) < time.Hour {
			air[t] = rows[i].TempC
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
	return air, gaps
}
