package planner

import (
	"math"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/say"
)

func (kt *kitchen) coldIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	rc := kt.recipes[s.bev]
	name := kt.name(s.bev)
	share := rc.split.ShareNeeded
	if !math.IsNaN(share) {
		share = math.Ceil(share*100) / 100
	}
	rest := math.Floor(rc.needC)
	out := []idea{
		{action: kt.q.Say("way.bath", "beverage", name), change: onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := !b.Bath || b.BathTempC > 1
			b.Bath, b.BathTempC = true, min(b.BathTempC, 1)
			return ok
		})},
		{action: kt.q.Say("way.rest", "beverage", name, "temp", kt.q.Temp(rest)), change: onBeverage(s.bev, func(b *models.Beverage) bool {
			if b.Method == models.Steeped || rest < roomC || rest >= rc.outC {
				return false
			}
			b.RestTempC = &rest
			return true
		})},
		{action: kt.q.Say("way.more_share", "beverage", name, "share", kt.q.Number(share, 2)), change: onBeverage(s.bev, func(b *models.Beverage) bool {
			if math.IsNaN(share) || share >= 1 || share <= b.IceShare || b.Method != models.Flash {
				return false
			}
			b.IceShare = share
			return true
		})},
		{action: kt.q.Say("way.target_store", "beverage", name, "temp", kt.q.Temp(coldC), "store", kt.q.Temp(4)), change: func(r *models.PlanRequest) bool {
			b := &r.Beverages[s.bev]
			ok := b.TargetTempC > coldC || r.Site.StoreTempC > 4
			b.TargetTempC, r.Site.StoreTempC = min(b.TargetTempC, coldC), min(r.Site.StoreTempC, 4)
			return ok
		}},
	}
	if !rc.reaches {
		nearest := math.Ceil(rc.after.FinalC)
		out = append(out, idea{action: kt.q.Say("way.target", "beverage", name, "temp", kt.q.Temp(nearest)), change: onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := nearest > b.TargetTempC && nearest <= 60
			b.TargetTempC = nearest
			return ok
		})})
	}
	return out
}

func (st *setting) holdIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	return []idea{{action: st.q.Say("way.say_hold", "hours", say.Number(st.req.Site.MaxHoldH, 0), "beverage", st.name(s.bev)), change: onBeverage(s.bev, func(b *models.Beverage) bool {
		ok := b.HoldH > st.req.Site.MaxHoldH
		b.HoldH = min(b.HoldH, st.req.Site.MaxHoldH)
		return ok
	})}}
}

// strengthIdeas solves for the brew ratio that gives the target strength.
func (st *setting) strengthIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	b := &st.req.Beverages[s.bev]
	tds := func(ratio float64) float64 {
		return brew.Recipe{Ratio: ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}.FinalTDSPct()
	}
	lo, hi := (b.RetainedRatio+0.2)/(1-b.IceShare), 100.0
	if !(tds(lo) > b.TargetTDSPct && tds(hi) < b.TargetTDSPct) {
		return nil
	}
	for range 60 {
		if mid := (lo + hi) / 2; tds(mid) > b.TargetTDSPct {
			lo = mid
		} else {
			hi = mid
		}
	}
	ratio := math.Round(lo*10) / 10
	return []idea{{action: st.q.Say("way.ratio", "beverage", st.name(s.bev), "ratio", st.q.Number(ratio, 1)), change: onBeverage(s.bev, func(x *models.Beverage) bool {
		ok := ratio != x.Ratio
		x.Ratio = ratio
		return ok
	})}}
}
