package learnt

import (
	"encoding/json"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/ice"
)

// Observed is what was marked and counted in a shop. Batches, readings and ends are by code of the beverage.
type Observed struct {
	Ice      IceShop
	Batches  map[string][]Brewed
	Readings map[string][]Cooled
	Ends     map[string][]Ended
}

// Least observations for a suggestion. A handful of points proves nothing, however far off they are.
const (
	leastSpans    = 14 // between counts of the ice bin
	leastBatches  = 8
	leastReadings = 8
	leastDiscards = 5
)

// When a change is suggested: the 90 % range leaves the set-up's value out, the change is at least worthPct of it, and the observations have
// narrowed the prior to at most narrowed of its standard deviation.
const (
	worthPct = 5.0
	narrowed = 0.6
)

// Values estimates everything that is observed, in the order of the set-up, with the changes that are clear.
func Values(s *models.Setup, o *Observed) []models.LearntValue {
	out := iceValues(s, &o.Ice)
	for i := range s.Beverages {
		b := &s.Beverages[i]
		kept := Retention(o.Batches[b.Code], b.RetainedRatio, b.MaxYieldPct)
		out = append(out, retentionValues(s, b, o.Batches[b.Code], kept)...)
		out = append(out, strengthValue(b, o.Batches[b.Code], kept.Value)...)
		out = append(out, coolingValue(s, b, o.Readings[b.Code])...)
		out = append(out, holdValue(s, b, o.Ends[b.Code])...)
	}
	return out
}

func valueID(kind string, parts ...string) string {
	for _, p := range parts {
		if p != "" {
			kind += ":" + p
		}
	}
	return kind
}

// clear reports whether the observations suggest a change, and notes if they are too few.
func isClear(v *models.LearntValue, least int, narrowing float64) bool {
	if v.N < least {
		v.Note = models.LearntFew
		return false
	}
	excluded := v.Low > v.SetUp || v.High < v.SetUp
	return excluded && narrowing <= narrowed && matters(v.Value, v.SetUp)
}

// matters reports whether a change is worth making.
func matters(to, from float64) bool { return math.Abs(to-from) >= worthPct/100*from }

// field is a change of a field of the set-up.
func field(pointer string, from, to any) models.LearntField {
	a, _ := json.Marshal(from) // numbers and lists of them
	b, _ := json.Marshal(to)
	return models.LearntField{Pointer: pointer, From: a, To: b}
}

func escaped(code string) string { return models.PointerToken(code) }

// rounded is x to the given number of significant digits.
func rounded(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	scale := math.Pow(10, float64(digits)-math.Ceil(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}

// iceValues estimates the machines, the bin and the ice served. What is suggested fits the counts together with all that stays as it is.
func iceValues(s *models.Setup, shop *IceShop) []models.LearntValue {
	fit := shop.Fit()
	if !fit.Reliable {
		return nil
	}
	loss, served := lossValue(s, &fit), servedValue(s, &fit)
	c := IceChanges{Machines: make([]bool, len(shop.Machines)), Slope: fit.bent(),
		Loss:   isClear(&loss, leastSpans, fit.Loss.narrowing(lossSD)),
		Served: served.Value >= 100 && isClear(&served, leastSpans, fit.Served.narrowing(servedSD))}
	var machines []models.LearntValue
	for k, code := range shop.Machines {
		i := slices.IndexFunc(s.Ice.Makers, func(m models.IceMaker) bool { return m.Code == code })
		if i < 0 {
			return nil
		}
		v := machineValue(s, &s.Ice.Makers[i], &fit, k)
		c.Machines[k] = isClear(&v, leastSpans, fit.Output[k][1].narrowing(fit.PriorSD))
		machines = append(machines, v)
	}
	with := fit.Taking(c)
	for k := range machines {
		i := slices.IndexFunc(s.Ice.Makers, func(m models.IceMaker) bool { return m.Code == shop.Machines[k] })
		if v := &machines[k]; c.Machines[k] && matters(with.Output[k][1], 1) {
			v.Change = &models.LearntProposal{Value: rounded(v.SetUp*with.Output[k][1], 3), Set: []models.LearntField{machineChange(&s.Ice.Makers[i], &fit, with.Output[k], s.Ice.InletWaterC)}}
		}
	}
	if to := rounded(fit.LossPct*with.Loss, 2); c.Loss && matters(to, loss.SetUp) {
		loss.Change = &models.LearntProposal{Value: to, Set: []models.LearntField{field("/ice/bin_loss_pct_per_h", s.Ice.BinLossPctPH, to)}}
	}
	if to := math.Round(served.SetUp * with.Served); c.Served && to >= 100 && matters(to, served.SetUp) {
		served.Change = &models.LearntProposal{Value: to, Set: []models.LearntField{field("/site/other_ice_pct", s.Site.OtherIcePct, to-100)}}
	}
	return append(machines, loss, served)
}

func machineValue(s *models.Setup, m *models.IceMaker, fit *IceFit, k int) models.LearntValue {
	v := models.LearntValue{ID: valueID(models.LearntIceMachine, m.Code), Kind: models.LearntIceMachine, Subject: m.Code, AirC: fit.AirC[1], PriorPct: 100 * fit.PriorSD, N: fit.N, Unit: "kg/day"}
	for j, c := range fit.AirC {
		kg, r := machineOf(m).KgPerDay(c, s.Ice.InletWaterC), fit.Output[k][j]
		v.Points = append(v.Points, models.LearntPoint{At: c, SetUp: kg, Value: kg * r.Median, Low: kg * r.Low, High: kg * r.High})
	}
	at := v.Points[1]
	v.SetUp, v.Value, v.Low, v.High = at.SetUp, at.Value, at.Low, at.High
	return v
}

func lossValue(s *models.Setup, fit *IceFit) models.LearntValue {
	return models.LearntValue{ID: valueID(models.LearntBinLoss), Kind: models.LearntBinLoss, SetUp: s.Ice.BinLossPctPH, PriorPct: 100 * lossSD, N: fit.N, Unit: "%/h",
		Value: fit.LossPct * fit.Loss.Median, Low: fit.LossPct * fit.Loss.Low, High: fit.LossPct * fit.Loss.High}
}

func servedValue(s *models.Setup, fit *IceFit) models.LearntValue {
	all := 100 + s.Site.OtherIcePct
	return models.LearntValue{ID: valueID(models.LearntIceServed), Kind: models.LearntIceServed, SetUp: all, PriorPct: 100 * servedSD, N: fit.N, Unit: "%",
		Value: all * fit.Served.Median, Low: all * fit.Served.Low, High: all * fit.Served.High}
}

// narrowing is the standard deviation of the logarithm, to that of a lognormal prior.
func (r Ratio) narrowing(priorSD float64) float64 {
	return math.Log(r.High/r.Low) / (2 * z90) / prior{1, priorSD}.logSD()
}

func machineOf(m *models.IceMaker) ice.Maker {
	out := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
	for _, p := range m.Curve {
		out.Curve = append(out.Curve, ice.Point(p))
	}
	return out
}

// bent reports whether the machines' output clearly changes otherwise with the air than the set-up says.
func (f *IceFit) bent() bool {
	return math.Abs(f.SlopeC) > z90*f.SlopeSD && math.Abs(f.SlopeC)*(f.AirC[2]-f.AirC[0]) >= worthPct/100
}

// machineChange is the change of a machine by factors at the air temperatures of the fit: of its rating or its curve. Where its output
// changes otherwise with the air than the set-up says, it gets a curve through what was learnt.
func machineChange(m *models.IceMaker, fit *IceFit, factors [3]float64, waterC float64) models.LearntField {
	at := "/ice/makers/" + escaped(m.Code)
	switch {
	case len(m.Curve) > 0:
		curve := slices.Clone(m.Curve)
		for i := range curve {
			curve[i].KgPerDay = rounded(curve[i].KgPerDay*between(fit.AirC, factors, curve[i].AirC), 3)
		}
		return field(at+"/curve", m.Curve, curve)
	case factors[0] != factors[2]:
		var curve []models.CurvePoint
		for j, c := range fit.AirC {
			curve = append(curve, models.CurvePoint{AirC: c, WaterC: waterC, KgPerDay: rounded(machineOf(m).KgPerDay(c, waterC)*factors[j], 3)})
		}
		return field(at+"/curve", []models.CurvePoint{}, curve)
	}
	return field(at+"/kg_per_day_rated", m.KgPerDayRated, rounded(m.KgPerDayRated*factors[1], 3))
}

// between interpolates y at x; beyond the ends it keeps their values.
func between(xs, ys [3]float64, x float64) float64 {
	for i := range 2 {
		if x < xs[i+1] && xs[i+1] > xs[i] {
			return ys[i] + (ys[i+1]-ys[i])*max(0, x-xs[i])/(xs[i+1]-xs[i])
		}
	}
	return ys[2]
}

// fill sets the estimate of a value.
func (x Scalar) fill(v *models.LearntValue) {
	v.N, v.PriorPct, v.Value, v.Low, v.High = x.N, 100*x.PriorSD, x.Value, x.Low, x.High
}

func retentionValues(s *models.Setup, b *models.Beverage, batches []Brewed, x Scalar) []models.LearntValue {
	of := func(x Scalar, id, brewer string) models.LearntValue {
		v := models.LearntValue{ID: id, Kind: models.LearntRetention, Subject: b.Code, Brewer: brewer, SetUp: b.RetainedRatio, Unit: "g/g"}
		x.fill(&v)
		return v
	}
	all := of(x, valueID(models.LearntRetention, b.Code), "")
	if all.N == 0 {
		return nil
	}
	out := []models.LearntValue{all}
	lowest, highest := math.Inf(1), 0.0
	for _, w := range s.Brewers {
		mine := slices.DeleteFunc(slices.Clone(batches), func(x Brewed) bool { return x.Brewer != w.Code })
		if len(mine) == 0 || len(mine) == len(batches) {
			continue
		}
		if v := of(Retention(mine, b.RetainedRatio, b.MaxYieldPct), valueID(all.ID, w.Code), w.Code); v.N > 0 {
			out = append(out, v)
			if v.N >= leastBatches {
				lowest, highest = min(lowest, v.High), max(highest, v.Low)
			}
		}
	}
	v := &out[0]
	switch {
	case lowest < highest:
		v.Note = models.LearntBrewersDiffer
	case isClear(v, leastBatches, x.narrowing):
		to := rounded(v.Value, 3)
		v.Change = &models.LearntProposal{Value: to, Set: []models.LearntField{field("/beverages/"+escaped(b.Code)+"/retained_ratio", b.RetainedRatio, to)}}
	}
	return out
}

// strengthValue is the strength of a beverage whose grounds retain so much.
func strengthValue(b *models.Beverage, batches []Brewed, retained float64) []models.LearntValue {
	x := Strength(batches, retained, b.MaxYieldPct)
	if x.N == 0 {
		return nil
	}
	tds := func(maxYieldPct float64) float64 {
		r := recipeOf(b, maxYieldPct)
		r.RetainedRatio = retained
		return r.FinalTDSPct()
	}
	v := models.LearntValue{ID: valueID(models.LearntStrength, b.Code), Kind: models.LearntStrength, Subject: b.Code, Unit: "%"}
	x.fill(&v)
	v.SetUp, v.Value, v.Low, v.High = tds(b.MaxYieldPct), tds(x.Value), tds(x.Low), tds(x.High)
	const most = 35 // as max_yield_pct is validated
	if to := min(most, rounded(x.Value, 3)); isClear(&v, leastBatches, x.narrowing) {
		v.Change = &models.LearntProposal{Value: rounded(v.Value, 3), Set: []models.LearntField{field("/beverages/"+escaped(b.Code)+"/max_yield_pct", b.MaxYieldPct, to)}}
	}
	return []models.LearntValue{v}
}

func recipeOf(b *models.Beverage, maxYieldPct float64) brew.Recipe {
	return brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: maxYieldPct}
}

// Temperatures between which cooling is timed, °C, as for measured_cooling_min, and how far above its surroundings a batch is followed.
const (
	timedFromC    = 60.0
	timedToC      = 5.0
	aboveAmbientK = 2.0
)

// FullBrewedG is the liquid of a beverage's largest batch as it leaves the brewer, g; 0 if no brewer makes it.
func FullBrewedG(s *models.Setup, b *models.Beverage) float64 {
	full := 0.0
	unit := recipeOf(b, b.MaxYieldPct).ForDose(1)
	for i := range s.Brewers {
		w := &s.Brewers[i]
		if !slices.Contains(w.Beverages, b.Code) {
			continue
		}
		dose := w.MaxBeverageG / unit.BeverageG
		if w.MaxDoseG != nil {
			dose = min(dose, *w.MaxDoseG)
		}
		if w.MaxWaterG != nil {
			dose = min(dose, *w.MaxWaterG/unit.BrewWaterG)
		}
		full = max(full, dose*unit.BrewedG)
	}
	return full
}

// AmbientC is the temperature of the bath or cold store that cools a beverage, °C.
func AmbientC(site *models.Site, b *models.Beverage) float64 {
	if b.Bath {
		return b.BathTempC
	}
	return site.StoreTempC
}

func coolingValue(s *models.Setup, b *models.Beverage, readings []Cooled) []models.LearntValue {
	full, ambient := FullBrewedG(s, b), AmbientC(&s.Site, b)
	to := max(timedToC, ambient+aboveAmbientK)
	ua := b.CoolingUAWPerK
	if ua == nil && b.MeasuredCoolingMin != nil && ambient < timedToC {
		x := chill.CoolingMinutes(full, timedFromC, ambient, 1, timedToC) / *b.MeasuredCoolingMin
		ua = &x
	}
	if ua == nil || full <= 0 || len(readings) == 0 {
		return nil
	}
	sizes := []float64{full / 2, full}
	c := CoolingOf(readings, *ua, full, sizes)
	if c.UA.N == 0 {
		return nil
	}
	minutes := func(g, ua float64) float64 { return chill.CoolingMinutes(g, timedFromC, ambient, ua, to) }
	v := models.LearntValue{ID: valueID(models.LearntCooling, b.Code), Kind: models.LearntCooling, Subject: b.Code, FromC: timedFromC, ToC: to, Unit: "min"}
	c.UA.fill(&v)
	for i, g := range sizes {
		x := c.At[i]
		v.Points = append(v.Points, models.LearntPoint{At: g, SetUp: minutes(g, *ua), Value: minutes(g, x.Value), Low: minutes(g, x.High), High: minutes(g, x.Low)})
	}
	at := v.Points[len(v.Points)-1]
	v.SetUp, v.Value, v.Low, v.High = at.SetUp, at.Value, at.Low, at.High
	if !isClear(&v, leastReadings, c.UA.narrowing) {
		return []models.LearntValue{v}
	}
	v.Note = models.LearntFasterCooling
	if v.Value > v.SetUp {
		v.Note = models.LearntSlowerCooling
	}
	v.Change = &models.LearntProposal{Value: math.Round(v.Value)}
	if at := "/beverages/" + escaped(b.Code); b.CoolingUAWPerK != nil {
		v.Change.Set = []models.LearntField{field(at+"/cooling_ua_w_per_k", *b.CoolingUAWPerK, rounded(c.UA.Value, 3))}
	} else {
		v.Change.Set = []models.LearntField{field(at+"/measured_cooling_min", *b.MeasuredCoolingMin, rounded(*b.MeasuredCoolingMin**ua/c.UA.Value, 3))}
	}
	return []models.LearntValue{v}
}

// holdValue is how long a beverage keeps. Only a shorter time is ever suggested, in half hours, rounded down.
func holdValue(s *models.Setup, b *models.Beverage, ends []Ended) []models.LearntValue {
	hold := s.Site.HoldH(b)
	x := Hold(ends, hold)
	if x.N == 0 {
		return nil
	}
	v := models.LearntValue{ID: valueID(models.LearntHold, b.Code), Kind: models.LearntHold, Subject: b.Code, SetUp: hold, Unit: "h"}
	x.fill(&v)
	if to := math.Floor(2*v.Value) / 2; v.Value < hold && to >= 0.5 && isClear(&v, leastDiscards, x.narrowing) {
		v.Note = models.LearntShorterHold
		v.Change = &models.LearntProposal{Value: to, Set: []models.LearntField{field("/beverages/"+escaped(b.Code)+"/hold_h", b.HoldH, to)}}
	}
	return []models.LearntValue{v}
}
