package planner

import (
	"hotday/models"

	"hotday/planner/say"
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
		return []idea{{j.q.Say("way.steep", "beverage", j.name(s.bev), "temp", j.q.Degrees(coldC, 0)), onBeverage(s.bev, func(b *models.Beverage) bool { b.SteepTempC = coldC; return true })}}
	case models.WarnLimitLax:
		return []idea{
			{j.q.Say("way.store", "temp", j.q.Degrees(coldC, 0)), func(r *models.PlanRequest) bool {
				ok := r.Site.StoreTempC > coldC
				r.Site.StoreTempC = min(r.Site.StoreTempC, coldC)
				return ok && w.Unit == "°C"
			}},
			{j.q.Say("way.hold", "hours", say.Digits(longHoldH, 0)), func(r *models.PlanRequest) bool {
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
