package brew

import (
	"math"

	"hotday/planner/chill"
)

// Recipe is a brew that scales: everything in it is proportional to the dose.
type Recipe struct {
	Ratio         float64 // all the water of the recipe, ice included, g per g dose
	IceShare      float64 // the part of it that goes in as ice, 0…<1
	RetainedRatio float64 // g liquid kept per g dose
	MaxYieldPct   float64 // dissolvable share of the dose, %
}

// Amounts are the grams of one batch of a recipe.
type Amounts struct {
	DoseG, BrewWaterG, IceG float64
	BrewedG                 float64 // liquid as it leaves the brewer
	BeverageG               float64 // finished: brewed liquid and the ice stirred in
}

// FinishedPerDose is the finished beverage, g per g dose: ratio + S − A.
func (r Recipe) FinishedPerDose() float64 { return r.Ratio + r.MaxYieldPct/100 - r.RetainedRatio }

// Check returns ErrTooLittleWater where the brew water would stay in the grounds whole, else nil.
func (r Recipe) Check() error {
	if !(r.Ratio*(1-r.IceShare) > r.RetainedRatio) {
		return ErrTooLittleWater
	}
	return nil
}

// ForDose scales the recipe to doseG g of coffee.
func (r Recipe) ForDose(doseG float64) Amounts {
	ice := r.Ratio * doseG * r.IceShare
	finished := r.FinishedPerDose() * doseG
	return Amounts{DoseG: doseG, BrewWaterG: r.Ratio*doseG - ice, IceG: ice, BrewedG: finished - ice, BeverageG: finished}
}

// ForBeverage scales the recipe to beverageG g of finished beverage.
func (r Recipe) ForBeverage(beverageG float64) Amounts {
	return r.ForDose(beverageG / r.FinishedPerDose())
}

// Extract is the extraction of the recipe at doseG g.
func (r Recipe) Extract(doseG float64) (Extraction, error) {
	return Extract(doseG, r.ForDose(doseG).BrewWaterG, r.RetainedRatio, r.MaxYieldPct)
}

// FinalTDSPct is the strength, %, of the finished beverage with all of its ice melted; 0 for a recipe that Check refuses.
func (r Recipe) FinalTDSPct() float64 {
	x, err := r.Extract(1)
	if err != nil {
		return 0
	}
	return Diluted(x.TDSPct, x.BeverageG, r.Ratio*r.IceShare)
}

// Split is what becomes of a recipe whose water is partly ice.
type Split struct {
	Extraction                 // of the brew, before the ice
	Amounts        Amounts     // of the batch
	AtOnce         chill.State // the ice stirred in as the brew leaves the brewer
	NeedsPrecool   bool        // the ice does not do it at once
	PrecoolC       float64     // cool the brew to this, °C, before the ice goes in; the temperature out of the brewer when none is needed
	PrecoolReaches bool        // false: this ice is no help, not even for a brew as cold as the target
	AfterPrecool   chill.State // the ice stirred in at PrecoolC
	ShareNeeded    float64     // ice share that reaches the target without pre-cooling; NaN when no share does
	IceForBrewG    float64     // ice that brings this brew to the target at once, its brew water unchanged; +Inf when none does
}

// SplitIce computes a batch of doseG g whose ice (iceC −40…0 °C, of which wetShare is water) is stirred into brew that
// leaves the brewer at outC, aiming at targetC (°C). ErrTooLittleWater as Extract.
func (r Recipe) SplitIce(doseG, outC, iceC, wetShare, targetC float64) (Split, error) {
	a := r.ForDose(doseG)
	x, err := Extract(doseG, a.BrewWaterG, r.RetainedRatio, r.MaxYieldPct)
	if err != nil {
		return Split{}, err
	}
	mix := chill.Mix{BeverageG: x.BeverageG, BeverageC: outC, TDSPct: x.TDSPct, IceG: a.IceG, IceC: iceC, WetShare: wetShare}
	s := Split{Extraction: x, Amounts: a, AtOnce: mix.Settle(), ShareNeeded: r.ShareFor(outC, iceC, wetShare, targetC)}
	s.IceForBrewG, _ = mix.IceFor(targetC)
	s.PrecoolC, s.PrecoolReaches = mix.PrecoolFor(targetC)
	s.NeedsPrecool = s.PrecoolC < outC
	mix.BeverageC = s.PrecoolC
	s.AfterPrecool = mix.Settle()
	return s, nil
}

// ShareFor is the ice share with which the recipe, its whole water unchanged, reaches targetC from outC without
// pre-cooling; 0 when outC is not above targetC; NaN when no share does it before the brew water is too little.
// From (W(1−s) + (S−A)·d)·Δh = W·s·q: Δh the heat to take from the brew, q what the ice takes up, kJ/kg.
func (r Recipe) ShareFor(outC, iceC, wetShare, targetC float64) float64 {
	dh := chill.WaterEnthalpy(outC) - chill.WaterEnthalpy(targetC)
	if dh <= 0 {
		return 0
	}
	q := chill.WaterEnthalpy(targetC) - (1-wetShare)*chill.IceEnthalpy(iceC) - wetShare*chill.WaterEnthalpy(0)
	s := r.FinishedPerDose() * dh / (r.Ratio * (dh + q))
	if !(s < 1-r.RetainedRatio/r.Ratio) {
		return math.NaN()
	}
	return s
}
