package planner

import (
	"math"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
)

// roomC is the room temperature in which a brew rests, °C: an assumption for a hot day.
const roomC = 25.0

// recipe is a beverage with its physics computed once: temperatures do not depend on the size of a batch; cooling times and bath ice
// grow with it.
type recipe struct {
	bev  *models.Beverage
	brew brew.Recipe
	ext  brew.Extraction // of 1 g dose
	unit brew.Amounts    // of 1 g dose

	outC     float64 // leaving the brewer or the strainer, at most the boiling point
	boils    bool    // brewer_out_temp_c is above the site's boiling point
	restC    float64 // after resting; outC without a rest
	coolToC  *float64
	needC    float64 // the temperature at which the ice is enough; outC if it needs no cooling before
	reaches  bool    // the target is reached
	wetShare float64
	iceC     float64
	ambientC float64 // of the bath or cold store that cools it from restC to coolToC
	inBath   bool    // cooled in an ice bath
	beforeC  float64 // when the ice goes in, or when it is cold where none does
	after    chill.State
	split    brew.Split
	weighing brew.Weighing
}

// newRecipes computes the recipes of a request with its ice for drinks.
func newRecipes(r *models.PlanRequest, drink *iceStream) []*recipe {
	var out []*recipe
	for i := range r.Beverages {
		out = append(out, newRecipe(withMeasuredCooling(r, i), &r.Site, r.Ice.IceTempC, drink.wetShare(r)))
	}
	return out
}

func newRecipe(b *models.Beverage, site *models.Site, iceC, wetShare float64) *recipe {
	r := &recipe{bev: b, iceC: iceC, wetShare: wetShare, weighing: weighingOf(site),
		brew: brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}}
	r.unit = r.brew.ForDose(1)
	r.ext, _ = r.brew.Extract(1) // Validate refuses recipes with too little water
	r.outC = b.BrewerOutTempC
	if b.Method == models.Steeped {
		r.outC = b.SteepTempC
	}
	if boil := brew.BoilingPoint(site.AltitudeM); r.outC > boil {
		r.outC, r.boils = boil, true
	}
	r.split, _ = r.brew.SplitIce(1, r.outC, iceC, wetShare, b.TargetTempC)
	r.cool(site)
	return r
}

// cool works out the cooling: rest, then ice bath or cold store as far as needed, then the ice.
func (r *recipe) cool(site *models.Site) {
	b := r.bev
	r.restC = r.outC
	if b.RestTempC != nil && b.Method != models.Steeped {
		r.restC = min(r.outC, *b.RestTempC)
	}
	mix := chill.Mix{BeverageG: r.ext.BeverageG, BeverageC: r.restC, TDSPct: r.ext.TDSPct, IceG: r.unit.IceG, IceC: r.iceC, WetShare: r.wetShare}
	need, possible := mix.PrecoolFor(b.TargetTempC)
	r.needC = need
	at := r.restC
	r.ambientC, r.inBath = site.StoreTempC, false
	outside := b.Bath || b.Method != models.Flash // cold brew and hot-chilled coffee are always cooled from outside
	if b.Bath {
		r.ambientC, r.inBath = b.BathTempC, true
	}
	switch {
	case need >= r.restC-1e-9:
		r.inBath = false
		r.reaches = possible
	case !outside:
		r.inBath = false
	case possible && need > r.ambientC:
		at, r.reaches = need, true
	default: // it cannot get colder than its surroundings
		at = max(min(r.restC, r.ambientC+nearAmbientK), need)
		if b.Method == models.Steeped && !b.Bath {
			at = max(min(r.restC, r.ambientC), need)
		}
		r.inBath = r.inBath && at < r.restC
	}
	mix.BeverageC, r.beforeC = at, at
	r.after = mix.Settle()
	if r.after.FinalC <= b.TargetTempC+1e-6 && r.after.Regime != chill.WouldFreeze {
		r.reaches = true
	}
	if at < r.outC {
		r.coolToC = &at
	}
}

// nearAmbientK is how close cooling gets to the surroundings in a practical time, K.
const nearAmbientK = 1.0

// coolingMin is the time from the brewer to adding the ice, min, for brewedG g of liquid; it may be infinite. ok is false if
// cooling_ua_w_per_k is not known.
func (r *recipe) coolingMin(brewedG float64) (m float64, ok bool) {
	if r.coolToC == nil {
		return 0, true
	}
	if r.bev.CoolingUAWPerK == nil {
		return 0, false
	}
	ua, mass := *r.bev.CoolingUAWPerK, brewedG
	if r.restC < r.outC {
		m += chill.CoolingMinutes(mass, r.outC, r.restAmbientC(), ua, r.restC)
	}
	return m + chill.CoolingMinutes(mass, r.restC, r.ambientC, ua, *r.coolToC), true
}

// restAmbientC is the temperature around a resting brew, °C: the room's, or the cold store's if it rests to below room temperature.
func (r *recipe) restAmbientC() float64 {
	if r.restC > roomC+nearAmbientK {
		return roomC
	}
	return min(r.ambientC, r.restC-nearAmbientK)
}

// brewedG is the liquid from the brewer for doseG g of coffee.
func (r *recipe) brewedG(doseG float64) float64 { return r.ext.BeverageG * doseG }

// doseFor is the coffee for beverageG g of finished beverage, g.
func (r *recipe) doseFor(beverageG float64) float64 { return beverageG / r.brew.FinishedPerDose() }

// Least ice in a bath, kg per kg of coffee in it (common practice, no source). Cold brew goes in cool, so that its heat decides.
const (
	bathIceFlash   = 0.75
	bathIceChilled = 1.0
)

// bathIceG is the ice for the bath of mass g of brewed coffee, which stands in it for so many minutes in air at airC °C, g: the ice
// that takes up the heat of the coffee and of the air, at least the share of common practice, in whole tenths of a kilogram.
// ice.bath_ice_kg_per_kg_cooled, which a shop has weighed, stands for all of it.
func (r *recipe) bathIceG(mass float64, ice *models.Ice, wetShare, airC, minutes float64) float64 {
	if !r.inBath || r.coolToC == nil {
		return 0
	}
	var g float64
	if ice.BathIcePerKg != nil {
		g = *ice.BathIcePerKg * mass
	} else {
		g = chill.BathIceG(mass, r.restC, *r.coolToC, r.bev.BathTempC, ice.IceTempC, wetShare) +
			chill.BathAirIceG(airC, r.bev.BathTempC, ice.IceTempC, wetShare, minutes)
		if math.IsInf(g, 0) || math.IsNaN(g) { // it is all water: it cannot be worked out
			g = 0
		}
		switch r.bev.Method {
		case models.Flash:
			g = max(g, bathIceFlash*mass)
		case models.HotChilled:
			g = max(g, bathIceChilled*mass)
		}
	}
	return r.weighing.BathIce(g)
}

// bathSpan is when the bath of a batch of doseG g of coffee begins, min from its start, and how long the batch stands in it: until it is
// cold, or until it is ready where the cooling time is unknown.
func (r *recipe) bathSpan(doseG float64, t times, busyMin float64) (from, minutes float64) {
	from = min(busyMin, t.ice)
	if r.bev.Method == models.Steeped {
		from = t.strain
	}
	if m, known := r.coolingMin(doseG); known && !math.IsInf(m, 0) {
		return from, m
	}
	return from, max(0, t.ready-from)
}

// times of a batch, min from its start.
type times struct {
	strain float64 // cold brew: when it is strained; else 0
	ice    float64 // when the ice goes in; without ice, when it is in its vessel
	ready  float64
}

// timesOf returns, for brewedG g of liquid, ready = start + max(ready_min, busy_min + cooling); cold brew is strained after steep_h and ready ready_min later.
func (r *recipe) timesOf(brewedG, busyMin float64) times {
	if r.bev.Method == models.Steeped && r.bev.SteepH != nil {
		s := *r.bev.SteepH * 60
		return times{strain: s, ice: s, ready: s + r.bev.ReadyMin}
	}
	cooling, _ := r.coolingMin(brewedG)
	return times{ice: busyMin + cooling, ready: max(r.bev.ReadyMin, busyMin+cooling)}
}

// minBatchShare is the smallest batch as a share of the largest where a brewer states none.
const minBatchShare = 0.01

// limits returns the smallest and largest batch of a beverage on a brewer, g of finished beverage; ok is false if none is possible.
func (r *recipe) limits(w *models.Brewer) (lo, hi float64, ok bool) {
	lo, hi = w.MinBeverageG, w.MaxBeverageG
	per := r.brew.FinishedPerDose()
	if w.MaxDoseG != nil {
		hi = min(hi, *w.MaxDoseG*per)
	}
	if w.MaxWaterG != nil {
		hi = min(hi, *w.MaxWaterG/r.unit.BrewWaterG*per)
	}
	return max(lo, minBatchShare*hi), hi, lo <= hi && hi > 0
}
