package web

import (
	"hotday/models"
	"hotday/planner/say"
)

// handsTable lists people's time by half hour; it is empty where the request lists nobody.
func handsTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	t := table{ID: "hands", Hourly: true, Caption: q.Say("weekend.hands.table"), Note: q.Say("weekend.hands.note"),
		Head: []string{q.Say("weekend.hands.at"), q.Say("weekend.hands.on_shift"), q.Say("weekend.hands.serving"), q.Say("weekend.hands.free"), q.Say("weekend.hands.batches")}}
	minutes := func(m float64) string { return q.Say("weekend.hands.min", "min", say.Number(m, 0)) }
	for _, h := range plan.Hands {
		people := 0
		if h.OnShift != float64(int(h.OnShift)) {
			people = 1
		}
		t.Rows = append(t.Rows, tableRow{Cells: []string{q.At(h.At), q.Number(h.OnShift, people), minutes(h.ServingMin), minutes(h.FreeMin), minutes(h.UsedMin)}})
	}
	return t
}
