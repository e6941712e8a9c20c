package planner

import (
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/brew"
)

func (j *job) coldIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	rc := j.recipes[s.bev]
	name := j.name(s.bev)
	share := rc.split.ShareNeeded
	if !math.IsNaN(share) {
		share = math.Ceil(share*100) / 100
	}
	rest := math.Floor(rc.needC)
	out := []idea{
		{fmt.Sprintf("Cool %s in an ice bath before the ice goes in", name), onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := !b.Bath || b.BathTempC > 1
			b.Bath, b.BathTempC = true, min(b.BathTempC, 1)
			return ok
		})},
		{fmt.Sprintf("Let %s rest to %.0f °C before the ice goes in", name, rest), onBeverage(s.bev, func(b *models.Beverage) bool {
			if b.Method == models.Steeped || rest < roomC || rest >= rc.outC {
				return false
			}
			b.RestTempC = &rest
			return true
		})},
		{fmt.Sprintf("Brew %s with an ice share of %.2f", name, share), onBeverage(s.bev, func(b *models.Beverage) bool {
			if math.IsNaN(share) || share >= 1 || share <= b.IceShare || b.Method != models.Flash {
				return false
			}
			b.IceShare = share
			return true
		})},
		{fmt.Sprintf("Set the target of %s to %.0f °C, and the store no warmer than 4 °C", name, coldC), func(r *models.PlanRequest) bool {
			b := &r.Beverages[s.bev]
			ok := b.TargetTempC > coldC || r.Site.StoreTempC > 4
			b.TargetTempC, r.Site.StoreTempC = min(b.TargetTempC, coldC), min(r.Site.StoreTempC, 4)
			return ok
		}},
	}
	if !rc.reaches {
		nearest := math.Ceil(rc.after.FinalC)
		out = append(out, idea{fmt.Sprintf("Set the target of %s to %.0f °C", name, nearest), onBeverage(s.bev, func(b *models.Beverage) bool {
			ok := nearest > b.TargetTempC && nearest <= 60
			b.TargetTempC = nearest
			return ok
		})})
	}
	return out
}

func (j *job) holdIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	return []idea{{fmt.Sprintf("Say %.0f h at %s, as the site does", j.req.Site.MaxHoldH, j.name(s.bev)), onBeverage(s.bev, func(b *models.Beverage) bool {
		ok := b.HoldH > j.req.Site.MaxHoldH
		b.HoldH = min(b.HoldH, j.req.Site.MaxHoldH)
		return ok
	})}}
}

// strengthIdeas finds the ratio at which the modelled strength is the target's.
func (j *job) strengthIdeas(s *subject) []idea {
	if s.bev < 0 {
		return nil
	}
	b := &j.req.Beverages[s.bev]
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
	return []idea{{fmt.Sprintf("Brew %s at 1:%.1f", j.name(s.bev), ratio), onBeverage(s.bev, func(x *models.Beverage) bool {
		ok := ratio != x.Ratio
		x.Ratio = ratio
		return ok
	})}}
}
