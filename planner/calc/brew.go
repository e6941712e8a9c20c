package calc

import (
	"errors"
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/brew"
)

const (
	leastG      = 1e-3
	mostG       = 1e7
	leastTDS    = 1e-3
	mostRatio   = 100.0
	mostKept    = 10.0
	mostYield   = 35.0
	mostTDS     = 40.0
	percentUnit = " %"
	gramUnit    = " g"
	degreeUnit  = " °C"
)

type extractionIn struct {
	DoseG         float64  `json:"dose_g"`
	BrewWaterG    float64  `json:"brew_water_g"`
	BeverageG     *float64 `json:"beverage_g"`
	TDSPct        *float64 `json:"tds_pct"`
	RetainedRatio float64  `json:"retained_ratio" default:"2.1"`
	MaxYieldPct   float64  `json:"max_yield_pct" default:"21.8"`
	Method        string   `json:"method" default:"flash"`
	ServingG      *float64 `json:"serving_g"` // of this beverage, for its caffeine
}

type extractionOut struct {
	Ratio         float64  `json:"ratio"`
	BeverageG     float64  `json:"beverage_g"`
	TDSPct        float64  `json:"tds_pct"`
	YieldPct      float64  `json:"yield_pct"`
	RetainedG     float64  `json:"retained_g"`
	YieldModelled bool     `json:"yield_modelled"`
	DissolvedG    float64  `json:"dissolved_g"`         // in the beverage and in the retained liquid
	CaffeineMg    float64  `json:"caffeine_mg"`         // in all of the beverage; an estimate
	ServingMg     *float64 `json:"caffeine_serving_mg"` // in serving_g; null without
	CaffeineBasis string   `json:"caffeine_basis"`
	YieldDoubtful bool     `json:"yield_doubtful"`
	remarks
}

// calcExtraction is a brew forward (nothing measured) or backward. With strength and beverage measured the yield is
// theirs and nothing is modelled; with strength alone the beverage follows from M = W/(1 − TDS) and the retained ratio; with
// the beverage alone the retained liquid follows from it and the strength is the model's.
func calcExtraction(body []byte) (any, error) {
	var in extractionIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/dose_g", in.DoseG, leastG, mostG, gramUnit)
	r.within("/brew_water_g", in.BrewWaterG, leastG, mostG, gramUnit)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.method(in.Method)
	if in.TDSPct != nil {
		r.within("/tds_pct", *in.TDSPct, leastTDS, mostTDS, percentUnit)
	}
	if in.BeverageG != nil {
		r.within("/beverage_g", *in.BeverageG, leastG, mostG, gramUnit)
	}
	if in.ServingG != nil {
		r.within("/serving_g", *in.ServingG, 0, mostG, gramUnit)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	x, err := in.extraction()
	if err != nil {
		return nil, err
	}
	out := extractionOut{Ratio: in.BrewWaterG / in.DoseG, BeverageG: x.BeverageG, TDSPct: x.TDSPct, YieldPct: x.YieldPct,
		RetainedG: x.RetainedG, DissolvedG: x.DissolvedG, YieldModelled: in.TDSPct == nil || in.BeverageG == nil,
		CaffeineMg: x.CaffeineMg(x.BeverageG, x.BeverageG), CaffeineBasis: brew.CaffeineBasis, remarks: newRemarks()}
	how := "measured"
	if out.YieldModelled {
		how = "modelled"
		doubt := brew.Doubtful(in.Method == models.Steeped, out.Ratio)
		out.YieldDoubtful = doubt != ""
		out.warn(doubt)
	}
	out.say(fmt.Sprintf("%s g of coffee and %s g of water give %.0f g at %.2f %%, yield %.1f %% (%s); the grounds keep %.0f g.",
		inWords(in.DoseG), inWords(in.BrewWaterG), x.BeverageG, x.TDSPct, x.YieldPct, how, x.RetainedG))
	out.warn(brew.YieldSay(x.YieldPct))
	if in.ServingG != nil {
		mg := x.CaffeineMg(x.BeverageG, *in.ServingG)
		out.ServingMg = &mg
		out.say(fmt.Sprintf("A serving of %s g carries about %.0f mg of caffeine (%s).", inWords(*in.ServingG), mg, brew.CaffeineBasis))
		out.warn(brew.CaffeineSay(mg))
	}
	out.caution(models.CautionCaffeine)
	if in.Method == models.Steeped {
		out.caution(models.CautionSteeping)
	} else {
		out.caution(models.CautionScald)
	}
	return out, nil
}

func (r *rangeCheck) checkCoffee(retainedRatio, maxYieldPct float64) {
	r.within("/retained_ratio", retainedRatio, 0.01, mostKept, " g per g")
	r.within("/max_yield_pct", maxYieldPct, 0.1, mostYield, percentUnit)
}

// ratio wants a recipe's whole water to stay below 1:100.
func (r *rangeCheck) ratio(pointer string, doseG, totalWaterG float64) {
	if doseG >= leastG && totalWaterG >= leastG && !(totalWaterG <= mostRatio*doseG) {
		r.add(pointer, fmt.Sprintf("at most %s g for this dose (1:%.0f)", inWords(mostRatio*doseG), mostRatio), "is 1:%.0f", totalWaterG/doseG)
	}
}

func (r *rangeCheck) method(m string) {
	if m != models.Flash && m != models.Steeped && m != models.HotChilled {
		r.add("/method", "flash, steeped or hot_chilled", "is %q", m)
	}
}

func (in extractionIn) extraction() (brew.Extraction, error) {
	if in.TDSPct == nil {
		x, err := brew.Extract(in.DoseG, in.BrewWaterG, in.RetainedRatio, in.MaxYieldPct)
		if in.BeverageG == nil {
			if err != nil {
				return x, tooLittleWater("/brew_water_g", in.DoseG, in.RetainedRatio)
			}
			return x, nil
		}
		s := in.MaxYieldPct / 100 * in.DoseG
		return measured(in.DoseG, in.BrewWaterG+s, *in.BeverageG, 100*s/(in.BrewWaterG+s))
	}
	m := brew.LiquidFrom(in.BrewWaterG, *in.TDSPct)
	if in.BeverageG != nil {
		return measured(in.DoseG, m, *in.BeverageG, *in.TDSPct)
	}
	b := m - in.RetainedRatio*in.DoseG
	if b <= 0 || in.BrewWaterG <= in.RetainedRatio*in.DoseG {
		return brew.Extraction{}, tooLittleWater("/brew_water_g", in.DoseG, in.RetainedRatio)
	}
	return measured(in.DoseG, m, b, *in.TDSPct)
}

// measured is the balance of a brew whose liquid, beverage and strength are known.
func measured(doseG, liquidG, beverageG, tdsPct float64) (brew.Extraction, error) {
	x := brew.Extraction{LiquidG: liquidG, BeverageG: beverageG, RetainedG: liquidG - beverageG, TDSPct: tdsPct,
		DissolvedG: tdsPct / 100 * liquidG, YieldPct: brew.MeasuredYield(doseG, beverageG, tdsPct)}
	x.SpentG = doseG - x.DissolvedG
	if x.RetainedG < -1e-9*liquidG {
		return x, models.Invalid("/beverage_g", fmt.Sprintf("at most %s g: all the water and what it dissolved", inWords(liquidG)),
			"%s g is more than was poured", inWords(beverageG))
	}
	x.RetainedG = max(0, x.RetainedG)
	if x.SpentG < 0 {
		return x, models.Invalid("/tds_pct", fmt.Sprintf("at most %s %%: the whole dose dissolved", inWords(100*doseG/(doseG+liquidG-x.DissolvedG))),
			"%s %% is more coffee than was dosed", inWords(tdsPct))
	}
	return x, nil
}

func tooLittleWater(pointer string, doseG, retainedRatio float64) error {
	return models.Invalid(pointer, fmt.Sprintf("more than %s g, what %s g of grounds keep; a usable brew starts near %s g",
		inWords(math.Ceil(retainedRatio*doseG)), inWords(doseG), inWords(math.Ceil(brew.GoodFromRatio*doseG))),
		"the grounds keep all of that water")
}

type fitIn struct {
	Brews []struct {
		DoseG      float64 `json:"dose_g"`
		BrewWaterG float64 `json:"brew_water_g"`
		BeverageG  float64 `json:"beverage_g"`
		TDSPct     float64 `json:"tds_pct"`
	} `json:"brews" opt:"false"`
}

type fitOut struct {
	MaxYieldPct     float64 `json:"max_yield_pct"`
	MaxYieldSE      float64 `json:"max_yield_se"`
	MaxYield95      float64 `json:"max_yield_plus_minus"` // half of the 95 % interval
	RetainedRatio   float64 `json:"retained_ratio"`
	RetainedRatioSE float64 `json:"retained_ratio_se"`
	RetainedRatio95 float64 `json:"retained_ratio_plus_minus"`
	Brews           int     `json:"brews"`
	remarks
}

// calcFit is a coffee's dissolvable share and retained ratio from measured brews.
func calcFit(body []byte) (any, error) {
	var in fitIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	if n := len(in.Brews); n < 2 || n > 1000 {
		r.add("/brews", "2 to 1000 measured brews", "has %d", n)
	}
	var brews []brew.Measured
	for i, b := range in.Brews {
		at := fmt.Sprintf("/brews/%d", i)
		r.within(at+"/dose_g", b.DoseG, leastG, mostG, gramUnit)
		r.within(at+"/brew_water_g", b.BrewWaterG, leastG, mostG, gramUnit)
		r.within(at+"/beverage_g", b.BeverageG, leastG, mostG, gramUnit)
		r.within(at+"/tds_pct", b.TDSPct, leastTDS, mostTDS, percentUnit)
		brews = append(brews, brew.Measured{DoseG: b.DoseG, WaterG: b.BrewWaterG, BeverageG: b.BeverageG, TDSPct: b.TDSPct})
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	f, err := brew.Fit(brews)
	var bad *brew.BrewError
	switch {
	case errors.As(err, &bad):
		return nil, models.Invalid(fmt.Sprintf("/brews/%d", bad.Index), "a brew whose weights and strength go together", "%s", bad.Detail)
	case err != nil:
		return nil, models.Invalid("/brews", "2 to 1000 measured brews", "%s", err)
	}
	out := fitOut{MaxYieldPct: f.MaxYieldPct.Value, MaxYieldSE: f.MaxYieldPct.SE, MaxYield95: f.MaxYieldPct.HalfWidth95,
		RetainedRatio: f.RetainedRatio.Value, RetainedRatioSE: f.RetainedRatio.SE, RetainedRatio95: f.RetainedRatio.HalfWidth95,
		Brews: f.Brews, remarks: newRemarks()}
	out.say(fmt.Sprintf("%d brews: %.1f ± %.1f %% of the dose dissolves, the grounds keep %.2f ± %.2f g per g (95 %%).",
		f.Brews, f.MaxYieldPct.Value, f.MaxYieldPct.HalfWidth95, f.RetainedRatio.Value, f.RetainedRatio.HalfWidth95))
	if f.MaxYieldPct.HalfWidth95 > 2 || f.RetainedRatio.HalfWidth95 > 0.3 {
		out.warn("These brews do not agree well enough to rely on: measure another one or two, the same way.")
	}
	return out, nil
}

type ratioIn struct {
	TargetTDSPct  float64 `json:"target_tds_pct"`
	IceShare      float64 `json:"ice_share"`
	RetainedRatio float64 `json:"retained_ratio" default:"2.1"`
	MaxYieldPct   float64 `json:"max_yield_pct" default:"21.8"`
}

type ratioOut struct {
	Ratio          float64 `json:"ratio"`
	BrewWaterRatio float64 `json:"brew_water_ratio"`
	FinalTDSPct    float64 `json:"final_tds_pct"`
	YieldPct       float64 `json:"yield_pct"`
	remarks
}

// calcRatio is the ratio at which a recipe with this ice share ends at the wished strength.
func calcRatio(body []byte) (any, error) {
	var in ratioIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/target_tds_pct", in.TargetTDSPct, leastTDS, mostTDS, percentUnit)
	r.within("/ice_share", in.IceShare, 0, 0.95, "")
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	if err := r.err(); err != nil {
		return nil, err
	}
	ratio, strongest, ok := brew.RatioFor(in.TargetTDSPct, in.IceShare, in.RetainedRatio, in.MaxYieldPct)
	if !ok {
		return nil, models.Invalid("/target_tds_pct", fmt.Sprintf("below %.2f %%, or a smaller ice_share", math.Floor(strongest*100)/100),
			"with %s of the water as ice no ratio of this coffee ends as strong as %s %%", inWords(in.IceShare), inWords(in.TargetTDSPct))
	}
	rec := brew.Recipe{Ratio: ratio, IceShare: in.IceShare, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
	x, err := rec.Extract(1)
	if err != nil || ratio > 1e6 {
		return nil, models.Invalid("/target_tds_pct", "a strength that some ratio gives", "no ratio ends at %s %%", inWords(in.TargetTDSPct))
	}
	out := ratioOut{Ratio: ratio, BrewWaterRatio: ratio * (1 - in.IceShare), FinalTDSPct: rec.FinalTDSPct(), YieldPct: x.YieldPct, remarks: newRemarks()}
	out.say(fmt.Sprintf("1:%.1f in all, 1:%.1f of it poured: ends at %.2f %% with a yield of %.1f %% (modelled).", ratio, out.BrewWaterRatio, out.FinalTDSPct, x.YieldPct))
	out.warn(brew.Doubtful(false, out.BrewWaterRatio), brew.YieldSay(x.YieldPct))
	return out, nil
}

type scaleIn struct {
	DoseG         float64  `json:"dose_g"` // of the small recipe
	TotalWaterG   float64  `json:"total_water_g"`
	IceShare      float64  `json:"ice_share"`
	BeverageG     float64  `json:"beverage_g"` // finished, wanted
	RetainedRatio float64  `json:"retained_ratio" default:"2.1"`
	MaxYieldPct   float64  `json:"max_yield_pct" default:"21.8"`
	MinBeverageG  float64  `json:"min_beverage_g" default:"0"` // of the brewer; 0: no limit
	MaxBeverageG  *float64 `json:"max_beverage_g"`
	MaxDoseG      *float64 `json:"max_dose_g"`
	MaxWaterG     *float64 `json:"max_water_g"`
}

type scaleOut struct {
	Batches    int     `json:"batches"`
	DoseG      float64 `json:"dose_g"` // of each batch
	BrewWaterG float64 `json:"brew_water_g"`
	IceG       float64 `json:"ice_g"`
	BeverageG  float64 `json:"beverage_g"`
	BoundBy    string  `json:"bound_by"` // the limit that sets the largest batch, empty when none
	remarks
}

// calcScale is a small dialled recipe made into batches that fit a brewer.
func calcScale(body []byte) (any, error) {
	var in scaleIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/dose_g", in.DoseG, leastG, mostG, gramUnit)
	r.within("/total_water_g", in.TotalWaterG, leastG, mostG, gramUnit)
	r.within("/ice_share", in.IceShare, 0, 0.95, "")
	r.within("/beverage_g", in.BeverageG, leastG, mostG, gramUnit)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.within("/min_beverage_g", in.MinBeverageG, 0, mostG, gramUnit)
	r.ratio("/total_water_g", in.DoseG, in.TotalWaterG)
	for _, l := range []struct {
		pointer string
		value   *float64
	}{{"/max_beverage_g", in.MaxBeverageG}, {"/max_dose_g", in.MaxDoseG}, {"/max_water_g", in.MaxWaterG}} {
		if l.value != nil {
			r.within(l.pointer, *l.value, 1, mostG, gramUnit)
		}
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	rec := brew.Recipe{Ratio: in.TotalWaterG / in.DoseG, IceShare: in.IceShare, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
	if rec.Check() != nil {
		return nil, tooLittleWater("/total_water_g", in.DoseG, in.RetainedRatio/(1-in.IceShare))
	}
	lim := brew.Limits{MinBeverageG: in.MinBeverageG, MaxBeverageG: givenOr(in.MaxBeverageG, 0), MaxDoseG: givenOr(in.MaxDoseG, 0), MaxWaterG: givenOr(in.MaxWaterG, 0)}
	most, by := rec.LargestBatch(lim)
	if most < in.MinBeverageG {
		return nil, models.Invalid("/min_beverage_g", fmt.Sprintf("at most %s g, the largest batch of this recipe", inWords(math.Floor(most))), "is %s g", inWords(in.MinBeverageG))
	}
	n, each, ok := rec.Runs(in.BeverageG, lim)
	a := rec.ForBeverage(each)
	out := scaleOut{Batches: n, DoseG: a.DoseG, BrewWaterG: a.BrewWaterG, IceG: a.IceG, BeverageG: a.BeverageG, BoundBy: string(by), remarks: newRemarks()}
	out.say(fmt.Sprintf("%d × %.0f g: each %.1f g of coffee, %.0f g of water, %.0f g of ice.", n, each, a.DoseG, a.BrewWaterG, a.IceG))
	if !ok {
		out.warn(fmt.Sprintf("The brewer makes no less than %s g: %.0f g more than wanted.", inWords(in.MinBeverageG), float64(n)*each-in.BeverageG))
	}
	out.caution(models.CautionScald)
	return out, nil
}
