package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// weather sets the air by slot. A missing hour takes the hottest value that the request has for that clock hour, else 35 °C.
func (j *job) weather() {
	rows := append([]models.WeatherHour(nil), j.req.Weather...)
	sort.SliceStable(rows, func(a, b int) bool { return rows[a].At.Before(rows[b].At) })
	hottest := map[int]float64{}
	for _, w := range rows {
		h := w.At.In(j.loc).Hour()
		if x, ok := hottest[h]; !ok || w.TempC > x {
			hottest[h] = w.TempC
		}
	}
	j.air = make([]float64, j.h.n)
	gap := -1
	for t := range j.air {
		at := j.h.at(t)
		i := sort.Search(len(rows), func(i int) bool { return rows[i].At.After(at) }) - 1
		if i >= 0 && at.Sub(rows[i].At) < time.Hour {
			j.air[t] = rows[i].TempC
			continue
		}
		j.air[t] = models.UnknownHottestC
		if x, ok := hottest[at.Hour()]; ok {
			j.air[t] = x
		}
		if h := int(at.Sub(j.h.start) / time.Hour); h != gap {
			gap = h
			j.airGaps++
		}
	}
}
