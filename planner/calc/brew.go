package calc

import (
	"errors"
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/say"
)

// Limits of inputs, and the units in their error messages.
const (
	minG             = 1e-3
	maxG             = 1e7
	minTDSPct        = 1e-3
	maxRatio         = 100.0
	maxRetainedRatio = 10.0
	maxYieldLimitPct = 35.0
	maxTDSPct        = 40.0
	percentUnit      = " %"
	gramUnit         = " g"
	degreeUnit       = " °C"
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

// calcExtraction balances a brew. With nothing measured, all is modelled. With strength and beverage measured, the yield follows from
// them; with strength alone, the beverage from M = W/(1 − TDS) and the retained ratio; with the beverage alone, the retained liquid,
// and the strength is modelled.
func calcExtraction(v say.Voice, body []byte) (any, error) {
	var in extractionIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/dose_g", in.DoseG, minG, maxG, gramUnit)
	r.within("/brew_water_g", in.BrewWaterG, minG, maxG, gramUnit)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.method(in.Method)
	if in.TDSPct != nil {
		r.within("/tds_pct", *in.TDSPct, minTDSPct, maxTDSPct, percentUnit)
	}
	if in.BeverageG != nil {
		r.within("/beverage_g", *in.BeverageG, minG, maxG, gramUnit)
	}
	if in.ServingG != nil {
		r.within("/serving_g", *in.ServingG, 0, maxG, gramUnit)
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
		CaffeineMg: x.CaffeineMg(x.BeverageG, x.BeverageG), CaffeineBasis: v.Say("calc.caffeine_basis", "pct", typed(v, brew.CaffeineOfDosePct)), remarks: newRemarks(v)}
	how := "calc.measured"
	if out.YieldModelled {
		how = "calc.modelled"
		out.YieldDoubtful = brew.Doubtful(in.Method == models.Steeped, out.Ratio)
	}
	out.say("calc.extraction", "how", v.Say(how), "dose", typed(v, in.DoseG), "water", typed(v, in.BrewWaterG), "beverage", v.Number(x.BeverageG, 0), "tds", v.Number(x.TDSPct, 2),
		"yield", v.Number(x.YieldPct, 1), "retained", v.Number(x.RetainedG, 0))
	out.judgeYield(out.YieldDoubtful, out.Ratio, x.YieldPct)
	if in.ServingG != nil {
		mg := x.CaffeineMg(x.BeverageG, *in.ServingG)
		out.ServingMg = &mg
		out.say("calc.caffeine", "serving", typed(v, *in.ServingG), "mg", v.Number(mg, 0), "basis", out.CaffeineBasis)
		if mg > brew.CaffeineServingMg {
			out.warn("calc.caffeine_high", "mg", v.Number(mg, 0), "most", v.Number(brew.CaffeineServingMg, 0), "basis", out.CaffeineBasis)
		}
	}
	out.caution(models.CautionCaffeine)
	if in.Method == models.Steeped {
		out.caution(models.CautionSteeping)
	} else {
		out.caution(models.CautionScald)
	}
	return out, nil
}

// judgeYield adds cautions for a yield that the model does not know well (doubtful, at this many g of brew water per g of dose), and
// for one outside the brewing control chart.
func (r *remarks) judgeYield(doubtful bool, brewWaterPerDose, yieldPct float64) {
	v := r.voice
	if doubtful {
		r.warn("calc.yield_doubtful", "ratio", v.Number(brewWaterPerDose, 1), "from", v.Number(brew.GoodFromRatio, 0), "to", v.Number(brew.GoodToRatio, 0))
	}
	chart := []any{"yield", v.Number(yieldPct, 1), "low", v.Number(brew.ChartYieldLow, 0), "high", v.Number(brew.ChartYieldHigh, 0)}
	switch brew.PositionOf(yieldPct) {
	case brew.YieldBelowChart:
		r.warn("calc.yield_low", chart...)
	case brew.YieldAboveChart:
		r.warn("calc.yield_high", chart...)
	}
}

func (r *rangeCheck) checkCoffee(retainedRatio, maxYieldPct float64) {
	r.within("/retained_ratio", retainedRatio, 0.01, maxRetainedRatio, " g per g")
	r.within("/max_yield_pct", maxYieldPct, 0.1, maxYieldLimitPct, percentUnit)
}

// brewerLimits checks the limits of a brewer that are given; least is the lowest that is accepted, g.
func (r *rangeCheck) brewerLimits(least float64, maxDoseG, maxWaterG, maxBeverageG *float64) {
	for _, l := range []struct {
		pointer string
		value   *float64
	}{{"/max_beverage_g", maxBeverageG}, {"/max_dose_g", maxDoseG}, {"/max_water_g", maxWaterG}} {
		if l.value != nil {
			r.within(l.pointer, *l.value, least, maxG, gramUnit)
		}
	}
}

func limitsOf(maxDoseG, maxWaterG, maxBeverageG *float64) brew.Limits {
	return brew.Limits{MaxDoseG: givenOr(maxDoseG, 0), MaxWaterG: givenOr(maxWaterG, 0), MaxBeverageG: givenOr(maxBeverageG, 0)}
}

// ratio requires a recipe's total water to be at most 100 times the dose.
func (r *rangeCheck) ratio(pointer string, doseG, totalWaterG float64) {
	if doseG >= minG && totalWaterG >= minG && !(totalWaterG <= maxRatio*doseG) {
		r.add(pointer, fmt.Sprintf("at most %s g for this dose (1:%.0f)", decimal(maxRatio*doseG), maxRatio), "is 1:%.0f", totalWaterG/doseG)
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

// measured balances a brew whose liquid, beverage and strength are known.
func measured(doseG, liquidG, beverageG, tdsPct float64) (brew.Extraction, error) {
	x := brew.Extraction{LiquidG: liquidG, BeverageG: beverageG, RetainedG: liquidG - beverageG, TDSPct: tdsPct,
		DissolvedG: tdsPct / 100 * liquidG, YieldPct: brew.MeasuredYield(doseG, beverageG, tdsPct)}
	x.SpentG = doseG - x.DissolvedG
	if x.RetainedG < -1e-9*liquidG {
		return x, models.Invalid("/beverage_g", fmt.Sprintf("at most %s g: all the water and what it dissolved", decimal(liquidG)),
			"%s g is more than was poured", decimal(beverageG))
	}
	x.RetainedG = max(0, x.RetainedG)
	if x.SpentG < 0 {
		return x, models.Invalid("/tds_pct", fmt.Sprintf("at most %s %%: the whole dose dissolved", decimal(100*doseG/(doseG+liquidG-x.DissolvedG))),
			"%s %% is more coffee than was dosed", decimal(tdsPct))
	}
	return x, nil
}

func tooLittleWater(pointer string, doseG, retainedRatio float64) error {
	return models.Invalid(pointer, fmt.Sprintf("more than %s g, what %s g of grounds keep; a usable brew starts near %s g",
		decimal(math.Ceil(retainedRatio*doseG)), decimal(doseG), decimal(math.Ceil(brew.GoodFromRatio*doseG))),
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

// calcFit estimates a coffee's maximum yield and retained ratio from measured brews.
func calcFit(v say.Voice, body []byte) (any, error) {
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
		r.within(at+"/dose_g", b.DoseG, minG, maxG, gramUnit)
		r.within(at+"/brew_water_g", b.BrewWaterG, minG, maxG, gramUnit)
		r.within(at+"/beverage_g", b.BeverageG, minG, maxG, gramUnit)
		r.within(at+"/tds_pct", b.TDSPct, minTDSPct, maxTDSPct, percentUnit)
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
		Brews: f.Brews, remarks: newRemarks(v)}
	out.say("calc.fit", "n", f.Brews, "yield", v.Number(f.MaxYieldPct.Value, 1), "yield95", v.Number(f.MaxYieldPct.HalfWidth95, 1),
		"retained", v.Number(f.RetainedRatio.Value, 2), "retained95", v.Number(f.RetainedRatio.HalfWidth95, 2))
	if f.MaxYieldPct.HalfWidth95 > 2 || f.RetainedRatio.HalfWidth95 > 0.3 {
		out.warn("calc.fit_loose")
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

// calcRatio finds the brew ratio at which a recipe with this ice share has the target strength.
func calcRatio(v say.Voice, body []byte) (any, error) {
	var in ratioIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/target_tds_pct", in.TargetTDSPct, minTDSPct, maxTDSPct, percentUnit)
	r.within("/ice_share", in.IceShare, 0, 0.95, "")
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	if err := r.err(); err != nil {
		return nil, err
	}
	ratio, strongest, ok := brew.RatioFor(in.TargetTDSPct, in.IceShare, in.RetainedRatio, in.MaxYieldPct)
	if !ok {
		return nil, models.Invalid("/target_tds_pct", fmt.Sprintf("below %.2f %%, or a smaller ice_share", math.Floor(strongest*100)/100),
			"with %s of the water as ice no ratio of this coffee ends as strong as %s %%", decimal(in.IceShare), decimal(in.TargetTDSPct))
	}
	rec := brew.Recipe{Ratio: ratio, IceShare: in.IceShare, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
	x, err := rec.Extract(1)
	if err != nil || ratio > 1e6 {
		return nil, models.Invalid("/target_tds_pct", "a strength that some ratio gives", "no ratio ends at %s %%", decimal(in.TargetTDSPct))
	}
	out := ratioOut{Ratio: ratio, BrewWaterRatio: ratio * (1 - in.IceShare), FinalTDSPct: rec.FinalTDSPct(), YieldPct: x.YieldPct, remarks: newRemarks(v)}
	out.say("calc.ratio", "ratio", v.Number(ratio, 1), "poured", v.Number(out.BrewWaterRatio, 1), "tds", v.Number(out.FinalTDSPct, 2), "yield", v.Number(x.YieldPct, 1))
	out.judgeYield(brew.Doubtful(false, out.BrewWaterRatio), out.BrewWaterRatio, x.YieldPct)
	return out, nil
}

type scaleIn struct {
	DoseG         float64  `json:"dose_g"` // of the recipe
	TotalWaterG   float64  `json:"total_water_g"`
	IceShare      float64  `json:"ice_share"`
	BeverageG     float64  `json:"beverage_g"` // finished beverage needed
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
	BoundBy    string  `json:"bound_by"` // the limit that sets the largest batch; "" if there is none
	remarks
}

// calcScale scales a small recipe to batches that fit a brewer.
func calcScale(v say.Voice, body []byte) (any, error) {
	var in scaleIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/dose_g", in.DoseG, minG, maxG, gramUnit)
	r.within("/total_water_g", in.TotalWaterG, minG, maxG, gramUnit)
	r.within("/ice_share", in.IceShare, 0, 0.95, "")
	r.within("/beverage_g", in.BeverageG, minG, maxG, gramUnit)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.within("/min_beverage_g", in.MinBeverageG, 0, maxG, gramUnit)
	r.ratio("/total_water_g", in.DoseG, in.TotalWaterG)
	r.brewerLimits(1, in.MaxDoseG, in.MaxWaterG, in.MaxBeverageG)
	if err := r.err(); err != nil {
		return nil, err
	}
	rec := brew.Recipe{Ratio: in.TotalWaterG / in.DoseG, IceShare: in.IceShare, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
	if rec.Check() != nil {
		return nil, tooLittleWater("/total_water_g", in.DoseG, in.RetainedRatio/(1-in.IceShare))
	}
	lim := limitsOf(in.MaxDoseG, in.MaxWaterG, in.MaxBeverageG)
	lim.MinBeverageG = in.MinBeverageG
	most, by := rec.LargestBatch(lim)
	if most < in.MinBeverageG {
		return nil, models.Invalid("/min_beverage_g", fmt.Sprintf("at most %s g, the largest batch of this recipe", decimal(math.Floor(most))), "is %s g", decimal(in.MinBeverageG))
	}
	n, each, ok := rec.Runs(in.BeverageG, lim)
	a := rec.ForBeverage(each)
	out := scaleOut{Batches: n, DoseG: a.DoseG, BrewWaterG: a.BrewWaterG, IceG: a.IceG, BeverageG: a.BeverageG, BoundBy: string(by), remarks: newRemarks(v)}
	out.say("calc.scale", "n", n, "each", v.Number(each, 0), "dose", v.Number(a.DoseG, 1), "water", v.Number(a.BrewWaterG, 0), "ice", v.Number(a.IceG, 0))
	if !ok {
		out.warn("calc.scale_least", "least", typed(v, in.MinBeverageG), "over", v.Number(float64(n)*each-in.BeverageG, 0))
	}
	out.caution(models.CautionScald)
	return out, nil
}
