package review

import (
	"slices"

	"hotday/models"
	"hotday/planner/say"
)

// Days needed before anything is advised.
const (
	minReportedDays = 5
	minIceDays      = 7
)

// notes say which results are unknown, and why.
func notes(v say.Voice, r *models.Review) []string {
	if r.Open == 0 {
		return []string{v.Say("review.no_counts")}
	}
	out := []string{}
	switch {
	case r.Reported == 0:
		out = append(out, v.Say("review.nothing_reported"))
	case r.Reported < r.Open:
		out = append(out, v.Say("review.days_reported", "n", r.Open, "reported", r.Reported))
	}
	if r.Reported < minReportedDays {
		out = append(out, v.Say("review.advice_later", "n", minReportedDays))
	}
	if r.Ice.LowestG == nil && r.Ice.BoughtG == 0 {
		out = append(out, v.Say("review.ice_not_counted"))
	}
	if slices.ContainsFunc(r.Drinks, func(d models.DrinkReview) bool { return d.OffSaleH > 0 && d.ShortOf == nil }) {
		out = append(out, v.Say("review.sold_out_without_forecast"))
	}
	return out
}
