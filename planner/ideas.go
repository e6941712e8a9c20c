package planner

import (
	"fmt"

	"hotday/models"
)

// idea is a change that may help: false where it does not apply.
type idea struct {
	action string
	change func(r *models.PlanRequest) bool
}

// ideas are the changes that may help against a warning, the most promising first.
func (j *job) ideas(w *models.Warning, s *subject) []idea {
	switch w.Kind {
	case models.WarnIceShort:
		if s.day < 0 {
			return j.plainIceIdeas(s)
		}
		return j.iceIdeas(s)
	case models.WarnPlainIce:
		return j.iceIdeas(&subject{day: s.day, bev: -1, coffee: -1, more: max(1, s.more)})
	case models.WarnBeverageShort:
		return j.beverageIdeas(s)
	case models.WarnBeansShort:
		return j.beanIdeas(w, s)
	case models.WarnWaterShort:
		return j.waterIdeas(w)
	case models.WarnColdStoreFull:
		return j.storeIdeas(w, s)
	case models.WarnBrewerOverrun:
		return j.overrunIdeas(s)
	case models.WarnTargetTemp, models.WarnCoolingSlow:
		return j.coldIdeas(s)
	case models.WarnHoldTooLong:
		return j.holdIdeas(s)
	case models.WarnStrengthOff, models.WarnYieldDoubtful:
		return j.strengthIdeas(s)
	case models.WarnSteepWarm:
		return []idea{{fmt.Sprintf("Steep %s at %.0f °C", j.name(s.bev), coldC), onBeverage(s.bev, func(b *models.Beverage) bool { b.SteepTempC = coldC; return true })}}
	case models.WarnLimitLax:
		return []idea{
			{fmt.Sprintf("Set the cold store to %.0f °C or colder", coldC), func(r *models.PlanRequest) bool {
				ok := r.Site.StoreTempC > coldC
				r.Site.StoreTempC = min(r.Site.StoreTempC, coldC)
				return ok && w.Unit == "°C"
			}},
			{fmt.Sprintf("Hold no longer than %.0f h", longHoldH), func(r *models.PlanRequest) bool {
				ok := r.Site.MaxHoldH > longHoldH
				r.Site.MaxHoldH = min(r.Site.MaxHoldH, longHoldH)
				return ok && w.Unit == "h"
			}},
		}
	}
	return nil
}

func onBeverage(i int, f func(b *models.Beverage) bool) func(r *models.PlanRequest) bool {
	return func(r *models.PlanRequest) bool { return i >= 0 && i < len(r.Beverages) && f(&r.Beverages[i]) }
}
