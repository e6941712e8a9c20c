package planner

import (
	"hotday/models"

	"hotday/planner/say"
)

// idea is a change to the request that may help; change returns false where it does not apply.
type idea struct {
	action    string
	change    func(r *models.PlanRequest) bool
	equipment bool // needs equipment that the shop does not have, or that does not work
}

// ideas lists changes that may help against a warning, the most promising first.
func (res *result) ideas(w *warning) []idea {
	s := &w.subject
	switch w.Kind {
	case models.WarnIceShort:
		if s.reason == byBorrowing { // there is enough
			return nil
		}
		if s.day < 0 {
			return res.plainIceIdeas(s, w.At)
		}
		return res.iceIdeas(s, w.At)
	case models.WarnPlainIce:
		return res.iceIdeas(&subject{day: s.day, bev: -1, coffee: -1, more: max(1, s.more)}, w.At)
	case models.WarnBeverageShort:
		return res.beverageIdeas(s)
	case models.WarnBeansShort:
		return res.beanIdeas(&w.Warning, s)
	case models.WarnWaterShort:
		return res.waterIdeas(&w.Warning)
	case models.WarnColdStoreFull:
		return res.storeIdeas(&w.Warning, s)
	case models.WarnBrewerOverrun:
		return res.overrunIdeas(s)
	case models.WarnTargetTemp, models.WarnCoolingSlow:
		if w.Grade == models.GradeNote { // signed off, or to be measured
			return nil
		}
		return res.coldIdeas(s)
	case models.WarnHoldTooLong:
		return res.holdIdeas(s)
	case models.WarnStrengthOff, models.WarnYieldDoubtful:
		return res.strengthIdeas(s)
	case models.WarnSteepWarm:
		return []idea{{action: res.q.Say("way.steep", "beverage", res.name(s.bev), "temp", res.q.Temp(coldC)), change: onBeverage(s.bev, func(b *models.Beverage) bool { b.SteepTempC = coldC; return true })}}
	case models.WarnLimitLax:
		return []idea{
			{action: res.q.Say("way.store", "temp", res.q.Temp(coldC)), change: func(r *models.PlanRequest) bool {
				ok := r.Site.StoreTempC > coldC
				r.Site.StoreTempC = min(r.Site.StoreTempC, coldC)
				return ok && w.Unit == "°C"
			}},
			{action: res.q.Say("way.hold", "hours", say.Number(res.longestHold(s), 0)), change: func(r *models.PlanRequest) bool {
				if w.Unit != "h" || s.bev < 0 {
					return false
				}
				r.Beverages[s.bev].HoldH = res.longestHold(s)
				return true
			}},
		}
	}
	return nil
}

func onBeverage(i int, f func(b *models.Beverage) bool) func(r *models.PlanRequest) bool {
	return func(r *models.PlanRequest) bool { return i >= 0 && i < len(r.Beverages) && f(&r.Beverages[i]) }
}
