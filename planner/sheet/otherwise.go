package sheet

import (
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// OtherwiseText says what a batch would cost planned another way: "Half an hour earlier would cost 0.40 EUR more, half an hour later
// 2.10 EUR more, leaving it out 31.00 EUR more." It is empty where the plan was computed without that.
func OtherwiseText(list []models.Otherwise, site models.Site) string {
	v := say.For(site)
	var costs, cannot []string
	for _, o := range list {
		change := v.Say("plan.otherwise." + o.Change)
		if o.Not != "" {
			cannot = append(cannot, v.Say("plan.otherwise_not", "change", change, "why", o.Not))
			continue
		}
		key := "plan.otherwise_also"
		if len(costs) == 0 {
			key = "plan.otherwise_costs"
		}
		costs = append(costs, v.Say(key, "change", change, "cost", v.CostDifference(o.Cost, site.Currency)))
	}
	var out []string
	if len(costs) > 0 {
		out = append(out, say.Capital(strings.Join(costs, v.Say("said.comma")))+".")
	}
	if len(cannot) > 0 {
		out = append(out, say.Capital(strings.Join(cannot, v.Say("said.semicolon")))+".")
	}
	return strings.Join(out, " ")
}
