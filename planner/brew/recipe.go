package brew

import (
	"math"

	"hotday/planner/chill"
)

// Recipe is a brew in proportion to its dose.
type Recipe struct {
	Ratio         float64 // total water, ice included, g per g dose
	IceShare      float64 // share of it added as ice, 0…<1
	RetainedRatio float64 // liquid retained by the grounds, g per g dose
	MaxYieldPct   float64 // soluble share of the dose, %
}

// Amounts are the masses of one batch of a recipe.
type Amounts struct {
	DoseG, BrewWaterG, IceG float64
	BrewedG                 float64 // liquid as it leaves the brewer
	BeverageG               float64 // finished: brewed liquid plus stirred-in ice
}

// FinishedPerDose is the finished beverage, g per g dose: ratio + S − A.
func (r Recipe) FinishedPerDose() float64 { return r.Ratio + r.MaxYieldPct/100 - r.RetainedRatio }

// Check returns ErrTooLittleWater if the grounds would retain all of the brew water.
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

// Extract models the brew of the recipe at a dose of doseG g; see the function Extract.
func (r Recipe) Extract(doseG float64) (Extraction, error) {
	return Extract(doseG, r.ForDose(doseG).BrewWaterG, r.RetainedRatio, r.MaxYieldPct)
}

// FinalTDSPct is the strength, %, of the finished beverage with all of its ice melted; 0 for a recipe that fails Check.
func (r Recipe) FinalTDSPct() float64 {
	x, err := r.Extract(1)
	if err != nil {
		return 0
	}
	return diluted(x.TDSPct, x.BeverageG, r.Ratio*r.IceShare)
}

// Split is a batch chilled with stirred-in ice.
type Split struct {
	Extraction               // of the brew, before the ice
	Amounts      Amounts     // of the batch
	AtOnce       chill.State // with the ice stirred in as the brew leaves the brewer
	NeedsPrecool bool        // AtOnce misses the target
	PrecoolC     float64     // temperature to cool the brew to before adding the ice, °C; the brewer's outlet temperature if no pre-cooling is needed
	AfterPrecool chill.State // with the ice stirred in at PrecoolC
	ShareNeeded  float64     // ice share that reaches the target without pre-cooling; NaN if none does
}

// SplitIce computes a batch with a dose of doseG g whose ice (iceC −40…0 °C, wetShare of its mass liquid) is stirred into brew
// that leaves the brewer at outC °C, for a target of targetC °C. ErrTooLittleWater as Extract.
func (r Recipe) SplitIce(doseG, outC, iceC, wetShare, targetC float64) (Split, error) {
	a := r.ForDose(doseG)
	x, err := Extract(doseG, a.BrewWaterG, r.RetainedRatio, r.MaxYieldPct)
	if err != nil {
		return Split{}, err
	}
	mix := chill.Mix{BeverageG: x.BeverageG, BeverageC: outC, TDSPct: x.TDSPct, IceG: a.IceG, IceC: iceC, WetShare: wetShare}
	s := Split{Extraction: x, Amounts: a, AtOnce: mix.Settle(), ShareNeeded: r.shareFor(outC, iceC, wetShare, targetC)}
	s.PrecoolC, _ = mix.PrecoolFor(targetC)
	s.NeedsPrecool = s.PrecoolC < outC
	mix.BeverageC = s.PrecoolC
	s.AfterPrecool = mix.Settle()
	return s, nil
}

// shareFor is the ice share with which the recipe, its total water unchanged, gets from outC to targetC without pre-cooling:
// 0 if outC is not above targetC, NaN if every such share leaves too little brew water. It solves
// (W(1−s) + (S−A)·d)·Δh = W·s·q, with Δh the heat to remove from the brew and q the heat that the ice absorbs, kJ/kg.
func (r Recipe) shareFor(outC, iceC, wetShare, targetC float64) float64 {
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
