package calc

import (
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
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

// calcChill is the heat balance of ice stirred into a beverage: where it ends, or how much ice a target takes.
func calcChill(body []byte) (any, error) {
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
		FinalBeverageG: s.FinalG, FinalTDSPct: s.FinalTDSPct, Regime: string(s.Regime), remarks: newRemarks()}
	switch s.Regime {
	case chill.WouldFreeze:
		out.say("This ice is so cold that the drink itself would begin to freeze: use less of it, or warmer ice.")
	case chill.IceLeft:
		out.say(fmt.Sprintf("Ends at 0 °C with %.0f g of ice left over: %.0f g of drink.", s.IceLeftG, s.FinalG))
	default:
		out.say(fmt.Sprintf("%.0f g of ice: ends at %.1f °C, %.0f g of drink.", math.Ceil(m.IceG), s.FinalC, s.FinalG))
	}
	out.caution(models.CautionIceFood)
	if m.BeverageC > 45 {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	if s.FinalC > chill.SafeStoreC {
		out.caution(models.CautionCooling)
	}
	return out, nil
}

func (in chillIn) check() error {
	var r rangeCheck
	r.within("/beverage_g", in.BeverageG, leastG, mostG, gramUnit)
	r.within("/beverage_temp_c", in.BeverageTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/tds_pct", in.TDSPct, 0, mostTDS, percentUnit)
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
		r.within("/ice_g", *in.IceG, 0, mostG, gramUnit)
	default:
		r.within("/target_temp_c", *in.TargetTempC, 0, chill.MaxWaterC, degreeUnit)
	}
	return r.err()
}

func (in chillIn) mix() chill.Mix {
	return chill.Mix{BeverageG: in.BeverageG, BeverageC: in.BeverageTempC, TDSPct: in.TDSPct, IceG: givenOr(in.IceG, 0), IceC: in.IceTempC,
		WetShare: in.WetShare, VesselJPerK: in.VesselJPerK, VesselC: givenOr(in.VesselTempC, in.BeverageTempC), HeatGainJ: in.HeatGainJ}
}

// iceForTarget is the ice that takes m to targetC; a target that ice cannot be the way to is refused.
func iceForTarget(m chill.Mix, targetC float64) (float64, error) {
	m.IceG = 0
	if without := m.Settle(); targetC > without.FinalC+1e-9 {
		return 0, models.Invalid("/target_temp_c", fmt.Sprintf("0 to %s °C", inWords(math.Floor(without.FinalC*10)/10)),
			"it stands at %.1f °C without any ice, and ice does not warm it", without.FinalC)
	}
	ice, ok := m.IceFor(targetC)
	switch {
	case !ok:
		return 0, models.Invalid("/wet_share", "less than 1, so that there is ice to melt", "water of 0 °C brings nothing to %s °C", inWords(targetC))
	case ice > mostG:
		return 0, models.Invalid("/target_temp_c", "a warmer target, or drier ice", "it would take %s kg of ice", inWords(math.Ceil(ice/1000)))
	}
	return ice, nil
}

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
	ShareNeededWithoutPrecool *float64 `json:"share_needed_without_precool"` // null: no share does it
	FinalBeverageG            float64  `json:"final_beverage_g"`
	FinalTDSPct               float64  `json:"final_tds_pct"`
	FinalTempC                float64  `json:"final_temp_c"` // after that pre-cooling
	YieldDoubtful             bool     `json:"yield_doubtful"`
	remarks
}

// calcIceSplit is a recipe whose water is partly ice: what the brew is, how cold the ice gets it at once, and what is
// needed to reach the target.
func calcIceSplit(body []byte) (any, error) {
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
		FinalTempC: s.AfterPrecool.FinalC, remarks: newRemarks()}
	poured := s.Amounts.BrewWaterG / in.DoseG
	doubt := brew.Doubtful(false, poured)
	out.YieldDoubtful = doubt != ""
	out.say(in.recipeSay(s)...)
	out.warn(doubt, brew.YieldSay(s.YieldPct))
	if in.BrewerOutTempC > 45 {
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
	r.within("/dose_g", in.DoseG, leastG, mostG, gramUnit)
	r.within("/total_water_g", in.TotalWaterG, leastG, mostG, gramUnit)
	if !(in.IceShare >= 0 && in.IceShare < 1) {
		r.add("/ice_share", "0 to below 1: the part of the water that is ice, 0.2 for 20 %", "is %s", inWords(in.IceShare))
	}
	hottest := chill.MaxWaterC
	if in.AltitudeM != nil {
		r.within("/altitude_m", *in.AltitudeM, -430, 5500, " m")
		hottest = min(hottest, brew.BoilingPoint(min(max(*in.AltitudeM, -430), 5500)))
	}
	switch {
	case in.BrewerOutTempC > hottest && hottest < chill.MaxWaterC:
		r.add("/brewer_out_temp_c", fmt.Sprintf("0 to %s °C", inWords(math.Floor(hottest*10)/10)), "water boils at %.1f °C at %s m", hottest, inWords(*in.AltitudeM))
	default:
		r.within("/brewer_out_temp_c", in.BrewerOutTempC, 0, chill.MaxWaterC, degreeUnit)
	}
	r.within("/ice_temp_c", in.IceTempC, chill.MinIceC, 0, degreeUnit)
	r.within("/target_temp_c", in.TargetTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/wet_share", in.WetShare, 0, 0.99, "")
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.ratio("/total_water_g", in.DoseG, in.TotalWaterG)
	return r.err()
}

// recipeSay reads the recipe aloud.
func (in iceSplitIn) recipeSay(s brew.Split) []string {
	mix := chill.Mix{BeverageG: s.BeverageG, BeverageC: in.BrewerOutTempC, TDSPct: s.TDSPct, IceG: s.Amounts.IceG, IceC: in.IceTempC, WetShare: in.WetShare}
	out := []string{fmt.Sprintf("Pour %.0f g of water over %s g of coffee: %.0f g run off at %.2f %%, yield %.1f %% (modelled).",
		s.Amounts.BrewWaterG, inWords(in.DoseG), s.BeverageG, s.TDSPct, s.YieldPct)}
	if refusal := mix.Say(in.TargetTempC, s.ShareNeeded); refusal != "" {
		if in.IceShare > 0 {
			refusal += fmt.Sprintf(" (iced at once it ends at %.0f °C)", s.AtOnce.FinalC)
		}
		out = append(out, refusal+".")
	}
	switch {
	case s.AfterPrecool.Regime == chill.WouldFreeze:
		out = append(out, "So much of so cold an ice would begin to freeze the drink: use less.")
	case s.NeedsPrecool && in.IceShare == 0:
		out = append(out, fmt.Sprintf("Chilled from outside it stays %.0f g at %.2f %%.", s.AfterPrecool.FinalG, s.AfterPrecool.FinalTDSPct))
	case s.NeedsPrecool:
		out = append(out, fmt.Sprintf("Cooled to %.0f °C, then %.0f g of ice stirred in: %.0f g at %s °C and %.2f %%.",
			math.Floor(s.PrecoolC+1e-9), s.Amounts.IceG, s.AfterPrecool.FinalG, inWords(in.TargetTempC), s.AfterPrecool.FinalTDSPct))
	default:
		left := ""
		if s.AtOnce.IceLeftG > 0.5 {
			left = fmt.Sprintf(", %.0f g of ice left over", s.AtOnce.IceLeftG)
		}
		out = append(out, fmt.Sprintf("Stir in %.0f g of ice at once: %.0f g at %.1f °C and %.2f %%%s.", s.Amounts.IceG, s.AtOnce.FinalG, s.AtOnce.FinalC, s.AtOnce.FinalTDSPct, left))
	}
	return out
}

type coolTimeIn struct {
	MassG       float64  `json:"mass_g"`
	TempC       float64  `json:"temp_c"`
	AmbientC    float64  `json:"ambient_temp_c"` // of air, or of a bath while its ice lasts
	UAWPerK     float64  `json:"ua_w_per_k"`
	ToTempC     float64  `json:"to_temp_c"`
	BathIceG    *float64 `json:"bath_ice_g"` // given: the bath warms when this is gone
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
func calcCoolTime(body []byte) (any, error) {
	var in coolTimeIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/mass_g", in.MassG, leastG, mostG, gramUnit)
	r.within("/temp_c", in.TempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/ambient_temp_c", in.AmbientC, -60, chill.MaxWaterC, degreeUnit)
	r.within("/ua_w_per_k", in.UAWPerK, 1e-3, 1e6, " W/K")
	r.within("/to_temp_c", in.ToTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/bath_ice_temp_c", in.BathIceTemp, chill.MinIceC, 0, degreeUnit)
	r.within("/bath_water_g", in.BathWaterG, 0, mostG, gramUnit)
	if in.BathIceG != nil {
		r.within("/bath_ice_g", *in.BathIceG, 0, mostG, gramUnit)
		r.within("/ambient_temp_c", in.AmbientC, 0, 40, " °C for a bath")
	}
	if in.ToTempC > in.TempC {
		r.add("/to_temp_c", fmt.Sprintf("at most temp_c, %s °C", inWords(in.TempC)), "is above temp_c: this is cooling")
	} else if in.ToTempC <= in.AmbientC && in.ToTempC < in.TempC {
		r.add("/to_temp_c", fmt.Sprintf("above ambient_temp_c, %s °C", inWords(in.AmbientC)), "it never gets to %s °C there", inWords(in.ToTempC))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	out := coolTimeOut{Minutes: chill.CoolingMinutes(in.MassG, in.TempC, in.AmbientC, in.UAWPerK, in.ToTempC), remarks: newRemarks(),
		BathIceG: chill.BathIceG(in.MassG, in.TempC, in.ToTempC, max(in.AmbientC, 0), in.BathIceTemp, 0)}
	if in.BathIceG != nil {
		end := chill.Bath{IceG: *in.BathIceG, WaterG: in.BathWaterG, ColdC: in.AmbientC, IceC: in.BathIceTemp}.Cool(in.MassG, in.TempC, in.UAWPerK, in.ToTempC)
		if math.IsInf(end.Minutes, 1) {
			return nil, models.Invalid("/bath_ice_g", fmt.Sprintf("at least %s g, and what the bath takes up from the room besides", inWords(math.Ceil(out.BathIceG))),
				"its ice is gone first, and beverage and bath meet at %.1f °C", end.FinalC)
		}
		out.Minutes, out.BathIceLeft, out.BathTempC = end.Minutes, &end.IceLeftG, &end.BathC
		out.caution(models.CautionBathIce)
	}
	out.say(fmt.Sprintf("From %s °C to %s °C in %.0f min; a bath takes %.0f g of plain ice for it.", inWords(in.TempC), inWords(in.ToTempC), math.Ceil(out.Minutes), math.Ceil(out.BathIceG)))
	j := chill.DefaultCooling.Judge([]chill.Stage{{FromC: in.TempC, ToC: in.ToTempC, AmbientC: in.AmbientC, Minutes: out.Minutes}})
	out.warn(j.Broken...)
	out.warn(j.Running)
	if len(j.Broken) > 0 || j.Running != "" {
		out.caution(models.CautionCooling)
	}
	if in.TempC > 45 {
		out.caution(models.CautionScald)
	}
	return out, nil
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

// calcGlass estimates the first and the last sip of a drink over serving ice.
func calcGlass(body []byte) (any, error) {
	var in glassIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/beverage_g", in.BeverageG, leastG, mostG, gramUnit)
	r.within("/beverage_temp_c", in.BeverageTempC, 0, chill.MaxWaterC, degreeUnit)
	r.within("/tds_pct", in.TDSPct, 0, mostTDS, percentUnit)
	r.within("/ice_g", in.IceG, 0, mostG, gramUnit)
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
	out := glassOut{FirstSip: sipOf(first), LastSip: sipOf(last), remarks: newRemarks()}
	out.say(fmt.Sprintf("First sip about %.2f %% at %.0f °C, last sip after %s min about %.2f %% at %.0f °C.",
		first.FinalTDSPct, first.FinalC, inWords(in.Minutes), last.FinalTDSPct, last.FinalC))
	out.caution(models.CautionEstimate, models.CautionIceFood)
	if in.BeverageTempC > 45 {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	return out, nil
}

func sipOf(s chill.State) sip {
	return sip{TempC: s.FinalC, TDSPct: s.FinalTDSPct, MeltedG: s.IceMeltedG, IceLeftG: s.IceLeftG}
}
