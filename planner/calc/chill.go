package calc

import (
	"fmt"
	"math"
	"strings"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/say"
)

type chillIn struct {
	BeverageG     float64  `json:"beverage_g"`
	BeverageTempC float64  `json:"beverage_temp_c"`
	TDSPct        float64  `json:"tds_pct" default:"0"`
	IceTempC      float64  `json:"ice_temp_c"`
	IceG          *float64 `json:"ice_g"`
	TargetTempC   *float64 `json:"target_temp_c"`
	WetShare      float64  `json:"wet_share" default:"0"`
	VesselJPerK   float64  `json:"vessel_j_per_k" default:"0"`
	VesselTempC   *float64 `json:"vessel_temp_c"`
	HeatGainJ     float64  `json:"heat_gain_j" default:"0"`
}

type chillOut struct {
	IceG           float64 `json:"ice_g"`
	IceMeltedG     float64 `json:"ice_melted_g"`
	IceLeftG       float64 `json:"ice_left_g"`
	FinalTempC     float64 `json:"final_temp_c"`
	FinalBeverageG float64 `json:"final_beverage_g"`
	FinalTDSPct    float64 `json:"final_tds_pct"`
	Regime         string  `json:"regime"`
	remarks
}

// calcChill is the heat balance of ice stirred into a beverage: its final temperature, or the ice for a target temperature.
func calcChill(v say.Voice, body []byte) (any, error) {
	var in chillIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	m := in.mix()
	if in.TargetTempC != nil {
		ice, err := iceForTarget(m, *in.TargetTempC)
		if err != nil {
			return nil, err
		}
		m.IceG = ice
	}
	s := m.Settle()
	if s.FinalC >= chill.MaxWaterC && m.BeverageC < chill.MaxWaterC {
		return nil, models.Invalid("/heat_gain_j", "less heat than boils the drink", "vessel and heat gain bring it to boiling")
	}
	out := chillOut{IceG: m.IceG, IceMeltedG: s.IceMeltedG, IceLeftG: s.IceLeftG, FinalTempC: s.FinalC,
		FinalBeverageG: s.FinalG, FinalTDSPct: s.FinalTDSPct, Regime: string(s.Regime), remarks: newRemarks(v)}
	switch s.Regime {
	case chill.WouldFreeze:
		out.say("calc.chill.freezes")
	case chill.IceLeft:
		out.say("calc.chill.ice_left", "left", v.Number(s.IceLeftG, 0), "beverage", v.Number(s.FinalG, 0))
	default:
		out.say("calc.chill", "ice", v.Number(math.Ceil(m.IceG), 0), "temp", v.Number(s.FinalC, 1), "beverage", v.Number(s.FinalG, 0))
	}
	out.caution(models.CautionIceFood)
	if m.BeverageC > scaldC {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	if s.FinalC > chill.SafeStoreC {
		out.caution(models.CautionCooling)
	}
	return out, nil
}

func (in chillIn) check() error {
	var r rangeCheck
	r.within("/beverage_g", in.BeverageG, minG, maxG, gramUnit)
	r.within("/beverage_temp_c", in.BeverageTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/tds_pct", in.TDSPct, 0, maxTDSPct, percentUnit)
	r.within("/ice_temp_c", in.IceTempC, chill.MinIceC, 0, degreeUnit)
	r.within("/wet_share", in.WetShare, 0, 1, "")
	r.within("/vessel_j_per_k", in.VesselJPerK, 0, 1e7, " J/K")
	r.within("/heat_gain_j", in.HeatGainJ, 0, 1e10, " J")
	if in.VesselTempC != nil {
		r.within("/vessel_temp_c", *in.VesselTempC, chill.MinIceC, chill.MaxWaterC, degreeUnit)
	}
	switch {
	case in.IceG == nil && in.TargetTempC == nil:
		r.add("/ice_g", "exactly one of ice_g and target_temp_c", "neither ice_g nor target_temp_c is given")
	case in.IceG != nil && in.TargetTempC != nil:
		r.add("/target_temp_c", "exactly one of ice_g and target_temp_c", "both ice_g and target_temp_c are given")
	case in.IceG != nil:
		r.within("/ice_g", *in.IceG, 0, maxG, gramUnit)
	default:
		r.within("/target_temp_c", *in.TargetTempC, 0, chill.MaxWaterC, degreeUnit)
	}
	return r.err()
}

func (in chillIn) mix() chill.Mix {
	return chill.Mix{BeverageG: in.BeverageG, BeverageC: in.BeverageTempC, TDSPct: in.TDSPct, IceG: givenOr(in.IceG, 0), IceC: in.IceTempC,
		WetShare: in.WetShare, VesselJPerK: in.VesselJPerK, VesselC: givenOr(in.VesselTempC, in.BeverageTempC), HeatGainJ: in.HeatGainJ}
}

// iceForTarget is the ice, g, that brings m to targetC. A CodeInvalid error if no reasonable mass of ice does.
func iceForTarget(m chill.Mix, targetC float64) (float64, error) {
	m.IceG = 0
	if without := m.Settle(); targetC > without.FinalC+1e-9 {
		return 0, models.Invalid("/target_temp_c", fmt.Sprintf("0 to %s °C", decimal(math.Floor(without.FinalC*10)/10)),
			"it stands at %.1f °C without any ice, and ice does not warm it", without.FinalC)
	}
	ice, ok := m.IceFor(targetC)
	switch {
	case !ok:
		return 0, models.Invalid("/wet_share", "less than 1, so that there is ice to melt", "water of 0 °C brings nothing to %s °C", decimal(targetC))
	case ice > maxG:
		return 0, models.Invalid("/target_temp_c", "a warmer target, or drier ice", "it would take %s kg of ice", decimal(math.Ceil(ice/1000)))
	}
	return ice, nil
}

// scaldC is the temperature, °C, above which a drink gets the caution about scalds (common practice, no source).
const scaldC = 45

type iceSplitIn struct {
	DoseG          float64  `json:"dose_g"`
	TotalWaterG    float64  `json:"total_water_g"`
	IceShare       float64  `json:"ice_share"`
	BrewerOutTempC float64  `json:"brewer_out_temp_c"`
	IceTempC       float64  `json:"ice_temp_c"`
	TargetTempC    float64  `json:"target_temp_c"`
	RetainedRatio  float64  `json:"retained_ratio" default:"2.1"`
	MaxYieldPct    float64  `json:"max_yield_pct" default:"21.8"`
	WetShare       float64  `json:"wet_share" default:"0"`
	AltitudeM      *float64 `json:"altitude_m"`
}

type iceSplitOut struct {
	BrewWaterG                float64  `json:"brew_water_g"`
	IceG                      float64  `json:"ice_g"`
	BeverageBeforeIceG        float64  `json:"beverage_before_ice_g"`
	TDSBeforeIcePct           float64  `json:"tds_before_ice_pct"`
	YieldPct                  float64  `json:"yield_pct"`
	FinalTempIfIcedAtOnceC    float64  `json:"final_temp_if_iced_at_once_c"`
	IceLeftG                  float64  `json:"ice_left_g"`
	PrecoolNeededC            float64  `json:"precool_needed_c"`
	ShareNeededWithoutPrecool *float64 `json:"share_needed_without_precool"` // null: no share is enough
	FinalBeverageG            float64  `json:"final_beverage_g"`
	FinalTDSPct               float64  `json:"final_tds_pct"`
	FinalTempC                float64  `json:"final_temp_c"` // after that pre-cooling
	YieldDoubtful             bool     `json:"yield_doubtful"`
	remarks
}

// calcIceSplit balances a recipe whose water is partly ice: the brew, the temperature that the ice brings it to at once, and what it
// takes to reach the target.
func calcIceSplit(v say.Voice, body []byte) (any, error) {
	var in iceSplitIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	rec := brew.Recipe{Ratio: in.TotalWaterG / in.DoseG, IceShare: in.IceShare, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
	s, err := rec.SplitIce(in.DoseG, in.BrewerOutTempC, in.IceTempC, in.WetShare, in.TargetTempC)
	if err != nil {
		return nil, tooLittleWater("/total_water_g", in.DoseG, in.RetainedRatio/(1-in.IceShare))
	}
	out := iceSplitOut{BrewWaterG: s.Amounts.BrewWaterG, IceG: s.Amounts.IceG, BeverageBeforeIceG: s.BeverageG, TDSBeforeIcePct: s.TDSPct,
		YieldPct: s.YieldPct, FinalTempIfIcedAtOnceC: s.AtOnce.FinalC, IceLeftG: s.AtOnce.IceLeftG, PrecoolNeededC: s.PrecoolC,
		ShareNeededWithoutPrecool: orNull(s.ShareNeeded), FinalBeverageG: s.AfterPrecool.FinalG, FinalTDSPct: s.AfterPrecool.FinalTDSPct,
		FinalTempC: s.AfterPrecool.FinalC, remarks: newRemarks(v)}
	poured := s.Amounts.BrewWaterG / in.DoseG
	out.YieldDoubtful = brew.Doubtful(false, poured)
	out.sayRecipe(in, s)
	out.judgeYield(out.YieldDoubtful, poured, s.YieldPct)
	if in.BrewerOutTempC > scaldC {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	if s.NeedsPrecool {
		out.caution(models.CautionBathIce)
	}
	if in.IceShare > 0 {
		out.caution(models.CautionIceFood)
	}
	if out.FinalTempC > chill.SafeStoreC {
		out.caution(models.CautionCooling)
	}
	return out, nil
}

func (in iceSplitIn) check() error {
	var r rangeCheck
	r.within("/dose_g", in.DoseG, minG, maxG, gramUnit)
	r.within("/total_water_g", in.TotalWaterG, minG, maxG, gramUnit)
	if !(in.IceShare >= 0 && in.IceShare < 1) {
		r.add("/ice_share", "0 to below 1: the part of the water that is ice, 0.2 for 20 %", "is %s", decimal(in.IceShare))
	}
	r.brewTemperatures(in.BrewerOutTempC, in.IceTempC, in.TargetTempC, in.WetShare, in.AltitudeM)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.ratio("/total_water_g", in.DoseG, in.TotalWaterG)
	return r.err()
}

// brewTemperatures checks the temperatures of a brew that is chilled with ice, °C, the ice's wet share, and the altitude, m, which limits
// the brewer's temperature.
func (r *rangeCheck) brewTemperatures(outC, iceC, targetC, wetShare float64, altitudeM *float64) {
	hottest := chill.MaxWaterC
	if altitudeM != nil {
		r.within("/altitude_m", *altitudeM, -430, 5500, " m")
		hottest = min(hottest, brew.BoilingPoint(min(max(*altitudeM, -430), 5500)))
	}
	switch {
	case outC > hottest && hottest < chill.MaxWaterC:
		r.add("/brewer_out_temp_c", fmt.Sprintf("0 to %s °C", decimal(math.Floor(hottest*10)/10)), "water boils at %.1f °C at %s m", hottest, decimal(*altitudeM))
	default:
		r.within("/brewer_out_temp_c", outC, 0, chill.MaxWaterC, degreeUnit)
	}
	r.within("/ice_temp_c", iceC, chill.MinIceC, 0, degreeUnit)
	r.within("/target_temp_c", targetC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/wet_share", wetShare, 0, 0.99, "")
}

// sayRecipe describes the recipe: the brew, why the ice does not reach the target if it does not, and how to chill it.
func (r *remarks) sayRecipe(in iceSplitIn, s brew.Split) {
	v := r.voice
	ice, final := v.Number(s.Amounts.IceG, 0), s.AfterPrecool
	r.say("calc.split", "water", v.Number(s.Amounts.BrewWaterG, 0), "dose", typed(v, in.DoseG), "beverage", v.Number(s.BeverageG, 0),
		"tds", v.Number(s.TDSPct, 2), "yield", v.Number(s.YieldPct, 1))
	r.sayNearest(in, s)
	switch {
	case final.Regime == chill.WouldFreeze:
		r.say("calc.chill.freezes")
	case s.NeedsPrecool && in.IceShare == 0:
		r.say("calc.split.no_ice", "beverage", v.Number(final.FinalG, 0), "tds", v.Number(final.FinalTDSPct, 2))
	case s.NeedsPrecool:
		r.say("calc.split.precool", "precool", v.Number(math.Floor(s.PrecoolC+1e-9), 0), "ice", ice, "beverage", v.Number(final.FinalG, 0),
			"temp", typed(v, in.TargetTempC), "tds", v.Number(final.FinalTDSPct, 2))
	default:
		left := ""
		if s.AtOnce.IceLeftG > 0.5 {
			left = v.Say("calc.split.left", "left", v.Number(s.AtOnce.IceLeftG, 0))
		}
		r.say("calc.split.at_once", "left", left, "ice", ice, "beverage", v.Number(s.AtOnce.FinalG, 0), "temp", v.Number(s.AtOnce.FinalC, 1), "tds", v.Number(s.AtOnce.FinalTDSPct, 2))
	}
}

// sayNearest offers the single changes that bring the recipe to its target if its ice does not.
func (r *remarks) sayNearest(in iceSplitIn, s brew.Split) {
	mix := chill.Mix{BeverageG: s.BeverageG, BeverageC: in.BrewerOutTempC, TDSPct: s.TDSPct, IceG: s.Amounts.IceG, IceC: in.IceTempC, WetShare: in.WetShare}
	n := mix.NearestTo(in.TargetTempC)
	if n.Reaches {
		return
	}
	v := r.voice
	var changes []string
	change := func(x float64, key string) {
		if !math.IsNaN(x) {
			changes = append(changes, v.Say(key, "x", v.Number(x, 0)))
		}
	}
	change(n.PrecoolC, "calc.split.way_cool")
	change(n.IceC, "calc.split.way_colder_ice")
	change(n.IceG, "calc.split.way_more_ice")
	change(math.Ceil(s.ShareNeeded*100-1e-9), "calc.split.way_share")
	if len(changes) == 0 {
		changes = append(changes, v.Say("calc.split.no_way"))
	}
	key := "calc.split.short"
	if mix.IceG == 0 {
		key = "calc.split.without"
	}
	r.say(key, "ice", massIn(v, mix.IceG), "beverage", massIn(v, mix.BeverageG), "from", tempIn(v, mix.BeverageC), "target", tempIn(v, in.TargetTempC),
		"ways", strings.Join(changes, v.Say("calc.or")))
	if in.IceShare > 0 {
		r.say("calc.split.ends_at", "temp", v.Number(s.AtOnce.FinalC, 0))
	}
}

// massIn writes grams, with a tenth below 10 g.
func massIn(v say.Voice, g float64) string {
	if g < 10 {
		return v.Number(g, 1)
	}
	return v.Number(g, 0)
}

// tempIn writes °C, with a tenth unless it is whole.
func tempIn(v say.Voice, c float64) string {
	if math.Abs(c-math.Round(c)) < 0.05 {
		return v.Number(c, 0)
	}
	return v.Number(c, 1)
}

type coolTimeIn struct {
	MassG       float64  `json:"mass_g"`
	TempC       float64  `json:"temp_c"`
	AmbientC    float64  `json:"ambient_temp_c"` // of air, or of a bath while its ice lasts
	UAWPerK     float64  `json:"ua_w_per_k"`
	ToTempC     float64  `json:"to_temp_c"`
	BathIceG    *float64 `json:"bath_ice_g"` // if given, the bath warms once this has melted
	BathWaterG  float64  `json:"bath_water_g" default:"0"`
	BathIceTemp float64  `json:"bath_ice_temp_c" default:"0"`
}

type coolTimeOut struct {
	Minutes     float64  `json:"minutes"`
	BathIceG    float64  `json:"bath_ice_needed_g"` // ice of bath_ice_temp_c that takes up this heat in a bath of ambient_temp_c
	BathIceLeft *float64 `json:"bath_ice_left_g"`   // null without bath_ice_g
	BathTempC   *float64 `json:"bath_temp_c"`
	remarks
}

// calcCoolTime is lumped cooling in air or in a bath.
func calcCoolTime(v say.Voice, body []byte) (any, error) {
	var in coolTimeIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/mass_g", in.MassG, minG, maxG, gramUnit)
	r.within("/temp_c", in.TempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/ambient_temp_c", in.AmbientC, -60, chill.MaxWaterC, degreeUnit)
	r.within("/ua_w_per_k", in.UAWPerK, 1e-3, 1e6, " W/K")
	r.within("/to_temp_c", in.ToTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/bath_ice_temp_c", in.BathIceTemp, chill.MinIceC, 0, degreeUnit)
	r.within("/bath_water_g", in.BathWaterG, 0, maxG, gramUnit)
	if in.BathIceG != nil {
		r.within("/bath_ice_g", *in.BathIceG, 0, maxG, gramUnit)
		r.within("/ambient_temp_c", in.AmbientC, 0, 40, " °C for a bath")
	}
	if in.ToTempC > in.TempC {
		r.add("/to_temp_c", fmt.Sprintf("at most temp_c, %s °C", decimal(in.TempC)), "is above temp_c: this is cooling")
	} else if in.ToTempC <= in.AmbientC && in.ToTempC < in.TempC {
		r.add("/to_temp_c", fmt.Sprintf("above ambient_temp_c, %s °C", decimal(in.AmbientC)), "it never gets to %s °C there", decimal(in.ToTempC))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	out := coolTimeOut{Minutes: chill.CoolingMinutes(in.MassG, in.TempC, in.AmbientC, in.UAWPerK, in.ToTempC), remarks: newRemarks(v),
		BathIceG: chill.BathIceG(in.MassG, in.TempC, in.ToTempC, max(in.AmbientC, 0), in.BathIceTemp, 0)}
	if in.BathIceG != nil {
		end := chill.Bath{IceG: *in.BathIceG, WaterG: in.BathWaterG, ColdC: in.AmbientC, IceC: in.BathIceTemp}.Cool(in.MassG, in.TempC, in.UAWPerK, in.ToTempC)
		if math.IsInf(end.Minutes, 1) {
			return nil, models.Invalid("/bath_ice_g", fmt.Sprintf("at least %s g, and what the bath takes up from the room besides", decimal(math.Ceil(out.BathIceG))),
				"its ice is gone first, and beverage and bath meet at %.1f °C", end.FinalC)
		}
		out.Minutes, out.BathIceLeft, out.BathTempC = end.Minutes, &end.IceLeftG, &end.BathC
		out.caution(models.CautionBathIce)
	}
	out.say("calc.cool", "from", typed(v, in.TempC), "to", typed(v, in.ToTempC), "minutes", v.Number(math.Ceil(out.Minutes), 0), "ice", v.Number(math.Ceil(out.BathIceG), 0))
	j := chill.DefaultCooling.Judge([]chill.Stage{{FromC: in.TempC, ToC: in.ToTempC, AmbientC: in.AmbientC, Minutes: out.Minutes}})
	findings := j.Broken
	if j.Running != nil {
		findings = append(findings, *j.Running)
	}
	for _, f := range findings {
		out.warnCooling(chill.DefaultCooling, f)
	}
	if len(findings) > 0 {
		out.caution(models.CautionCooling)
	}
	if in.TempC > scaldC {
		out.caution(models.CautionScald)
	}
	return out, nil
}

var coolingKeys = map[chill.CoolingFault]string{chill.StillHot: "calc.cool.still_hot", chill.FirstSlow: "calc.cool.first_slow",
	chill.SecondSlow: "calc.cool.second_slow", chill.StoredWarm: "calc.cool.stored_warm", chill.StoredAbove: "calc.cool.stored_above"}

// warnCooling adds a caution for a finding against the limits.
func (r *remarks) warnCooling(l chill.CoolingLimits, f chill.CoolingFinding) {
	v := r.voice
	r.warn(coolingKeys[f.Fault], "temp", tempIn(v, f.TempC), "time", timeIn(v, f.Minutes), "middle", tempIn(v, l.MiddleC), "cold", tempIn(v, l.ColdC),
		"first", timeIn(v, l.FirstMin), "second", timeIn(v, l.SecondMin))
}

// timeIn writes a time, min below 90 min and tenths of an hour from then on.
func timeIn(v say.Voice, minutes float64) string {
	if minutes < 90 {
		return v.Say("calc.minutes", "minutes", v.Number(minutes, 0))
	}
	return v.Say("calc.hours", "hours", v.Number(minutes/60, 1))
}

type glassIn struct {
	BeverageG     float64 `json:"beverage_g"`
	BeverageTempC float64 `json:"beverage_temp_c"`
	TDSPct        float64 `json:"tds_pct"`
	IceG          float64 `json:"ice_g"`
	IceTempC      float64 `json:"ice_temp_c"`
	WetShare      float64 `json:"wet_share" default:"0"`
	RoomTempC     float64 `json:"room_temp_c" default:"30"`
	Minutes       float64 `json:"minutes" default:"15"`
	CupUAWPerK    float64 `json:"cup_ua_w_per_k" default:"0.4"`
}

type sip struct {
	TempC    float64 `json:"temp_c"`
	TDSPct   float64 `json:"tds_pct"`
	MeltedG  float64 `json:"ice_melted_g"`
	IceLeftG float64 `json:"ice_left_g"`
}

type glassOut struct {
	FirstSip sip `json:"first_sip"`
	LastSip  sip `json:"last_sip"`
	remarks
}

// calcGlass estimates the first and the last sip of a drink over ice.
func calcGlass(v say.Voice, body []byte) (any, error) {
	var in glassIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/beverage_g", in.BeverageG, minG, maxG, gramUnit)
	r.within("/beverage_temp_c", in.BeverageTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/tds_pct", in.TDSPct, 0, maxTDSPct, percentUnit)
	r.within("/ice_g", in.IceG, 0, maxG, gramUnit)
	r.within("/ice_temp_c", in.IceTempC, chill.MinIceC, 0, degreeUnit)
	r.within("/wet_share", in.WetShare, 0, 1, "")
	r.within("/room_temp_c", in.RoomTempC, 0, 60, degreeUnit)
	r.within("/minutes", in.Minutes, 0, 1440, " min")
	r.within("/cup_ua_w_per_k", in.CupUAWPerK, 0, 100, " W/K")
	if err := r.err(); err != nil {
		return nil, err
	}
	g := chill.Glass{Mix: chill.Mix{BeverageG: in.BeverageG, BeverageC: in.BeverageTempC, TDSPct: in.TDSPct, IceG: in.IceG, IceC: in.IceTempC, WetShare: in.WetShare},
		CupUAWPerK: in.CupUAWPerK, RoomC: in.RoomTempC}
	first, last := g.FirstSip(), g.LastSip(in.Minutes)
	out := glassOut{FirstSip: sipOf(first), LastSip: sipOf(last), remarks: newRemarks(v)}
	out.say("calc.glass", "first_tds", v.Number(first.FinalTDSPct, 2), "first", v.Number(first.FinalC, 0), "minutes", typed(v, in.Minutes),
		"last_tds", v.Number(last.FinalTDSPct, 2), "last", v.Number(last.FinalC, 0))
	out.caution(models.CautionEstimate, models.CautionIceFood)
	if in.BeverageTempC > scaldC {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	return out, nil
}

func sipOf(s chill.State) sip {
	return sip{TempC: s.FinalC, TDSPct: s.FinalTDSPct, MeltedG: s.IceMeltedG, IceLeftG: s.IceLeftG}
}
