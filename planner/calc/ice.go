package calc

import (
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/ice"
	"hotday/planner/say"
)

type freezeIn struct {
	ThicknessMM  float64  `json:"thickness_mm"`
	Geometry     string   `json:"geometry"`
	Sides        int      `json:"sides" default:"2"`
	WaterTempC   float64  `json:"water_temp_c"`
	AirTempC     float64  `json:"air_temp_c"`
	HWM2K        float64  `json:"h_w_m2k"`
	MassKg       float64  `json:"mass_kg"`
	FreezerHeatW *float64 `json:"freezer_heat_w"`
	FinalTempC   *float64 `json:"final_temp_c"`
}

type freezeOut struct {
	FreezeMin       float64 `json:"freeze_min"`
	EnergyKJPerKg   float64 `json:"energy_kj_per_kg"`
	PowerLimitedMin float64 `json:"power_limited_min"` // 0 if freezer_heat_w is not given
	Limit           string  `json:"limit"`
	KgPerDay        float64 `json:"kg_per_day"`
	SurfaceMin      float64 `json:"surface_limited_min"`
	MeanIceTempC    float64 `json:"mean_ice_temp_c"` // at surface_limited_min
	remarks
}

// calcFreeze finds the time that a load of water takes to freeze.
func calcFreeze(v say.Voice, body []byte) (any, error) {
	var in freezeIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	f := ice.Mould{ThicknessMM: in.ThicknessMM, Geometry: ice.Geometry(in.Geometry), Sides: in.Sides, WaterC: in.WaterTempC, AirC: in.AirTempC,
		HWm2K: in.HWM2K, MassKg: in.MassKg, FreezerHeatW: givenOr(in.FreezerHeatW, 0), FinalC: in.FinalTempC}.Freeze()
	if math.IsInf(f.Minutes, 0) || math.IsNaN(f.Minutes) {
		return nil, models.Invalid("/air_temp_c", "colder air, or a wanted temperature farther above it", "it would not freeze through in any useful time")
	}
	out := freezeOut{FreezeMin: f.Minutes, EnergyKJPerKg: f.EnergyKJPerKg, PowerLimitedMin: f.PowerMin, Limit: string(f.Limit), KgPerDay: f.KgPerDay,
		SurfaceMin: f.SurfaceMin, MeanIceTempC: f.MeanIceC, remarks: newRemarks(v)}
	key := "calc.freeze.surface"
	if f.Limit == ice.ByCoolingPower {
		key = "calc.freeze.power"
	}
	out.say(key, "mass", typed(v, in.MassKg), "time", hoursMinutes(v, f.Minutes), "daily", v.Number(f.KgPerDay, 1))
	if f.Minutes > 1440 {
		out.warn("calc.freeze.long")
	}
	out.caution(models.CautionFreezer)
	return out, nil
}

func (in freezeIn) check() error {
	var r rangeCheck
	r.within("/thickness_mm", in.ThicknessMM, 1, 500, " mm")
	switch ice.Geometry(in.Geometry) {
	case ice.Slab, ice.Cylinder, ice.Sphere:
	default:
		r.add("/geometry", "slab, cylinder or sphere", "is %q", in.Geometry)
	}
	if in.Sides != 1 && in.Sides != 2 {
		r.add("/sides", "1 or 2 cooled faces", "is %d", in.Sides)
	}
	r.within("/water_temp_c", in.WaterTempC, 0, 100, degreeUnit)
	r.within("/air_temp_c", in.AirTempC, -80, -0.1, degreeUnit)
	r.within("/h_w_m2k", in.HWM2K, 0.1, 1e9, " W/m²K")
	r.within("/mass_kg", in.MassKg, 1e-6, 1e5, " kg")
	if in.FreezerHeatW != nil {
		r.within("/freezer_heat_w", *in.FreezerHeatW, 0.1, 1e7, " W")
	}
	if in.FinalTempC != nil && !(*in.FinalTempC > in.AirTempC && *in.FinalTempC <= 0) {
		r.add("/final_temp_c", fmt.Sprintf("above air_temp_c (%s °C), to 0 °C", decimal(in.AirTempC)), "is %s", decimal(*in.FinalTempC))
	}
	return r.err()
}

// hoursMinutes writes a time in hours and minutes, rounded up.
func hoursMinutes(v say.Voice, minutes float64) string {
	m := math.Ceil(minutes)
	if m < 60 {
		return v.Say("calc.minutes", "minutes", v.Number(m, 0))
	}
	return v.Say("calc.hours_minutes", "hours", v.Number(math.Floor(m/60), 0), "minutes", v.Number(math.Mod(m, 60), 0))
}

type iceStoreIn struct {
	IceG     float64 `json:"ice_g"`
	UAWPerK  float64 `json:"ua_w_per_k"`
	AirTempC float64 `json:"air_temp_c"`
	Hours    float64 `json:"hours"`
}

type iceStoreOut struct {
	MeltedG float64 `json:"melted_g"`
	LeftG   float64 `json:"left_g"`
	remarks
}

// calcIceStore finds the ice that melts in a bin.
func calcIceStore(v say.Voice, body []byte) (any, error) {
	var in iceStoreIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/ice_g", in.IceG, 0, 1e8, gramUnit)
	r.within("/ua_w_per_k", in.UAWPerK, 0, 1e5, " W/K")
	r.within("/air_temp_c", in.AirTempC, -60, 60, degreeUnit)
	r.within("/hours", in.Hours, 0, 1e4, " h")
	if err := r.err(); err != nil {
		return nil, err
	}
	melted := ice.MeltG(in.IceG, in.UAWPerK, in.AirTempC, in.Hours)
	out := iceStoreOut{MeltedG: melted, LeftG: in.IceG - melted, remarks: newRemarks(v)}
	out.say("calc.melt", "hours", typed(v, in.Hours), "temp", typed(v, in.AirTempC), "melted", v.Number(melted, 0), "left", v.Number(out.LeftG, 0))
	out.caution(models.CautionIceFood)
	return out, nil
}

type makerIn struct {
	KgPerDayRated float64             `json:"kg_per_day_rated" default:"0"`
	RatedAirC     float64             `json:"rated_air_c" default:"21"`
	RatedWaterC   float64             `json:"rated_water_c" default:"10"`
	Curve         []models.CurvePoint `json:"curve"`
	AirTempC      float64             `json:"air_temp_c"`
	WaterTempC    float64             `json:"water_temp_c"`
}

type makerOut struct {
	KgPerDay float64 `json:"kg_per_day"`
	Basis    string  `json:"basis"`
	remarks
}

// calcMaker finds an ice machine's output at given air and inlet-water temperatures.
func calcMaker(v say.Voice, body []byte) (any, error) {
	var in makerIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/air_temp_c", in.AirTempC, -10, 60, degreeUnit)
	r.within("/water_temp_c", in.WaterTempC, 0, 50, degreeUnit)
	r.within("/kg_per_day_rated", in.KgPerDayRated, 0, 1e5, " kg a day")
	r.within("/rated_air_c", in.RatedAirC, -10, 60, degreeUnit)
	r.within("/rated_water_c", in.RatedWaterC, 0, 50, degreeUnit)
	if len(in.Curve) == 0 && in.KgPerDayRated == 0 {
		r.add("/kg_per_day_rated", "a rating above 0, or a curve", "neither a rating nor a curve is given")
	}
	if len(in.Curve) > 200 {
		r.add("/curve", "at most 200 points", "has %d", len(in.Curve))
	}
	m := ice.Maker{KgPerDayRated: in.KgPerDayRated, RatedAirC: in.RatedAirC, RatedWaterC: in.RatedWaterC}
	for i, p := range in.Curve {
		at := fmt.Sprintf("/curve/%d", i)
		r.within(at+"/air_c", p.AirC, -10, 60, degreeUnit)
		r.within(at+"/water_c", p.WaterC, 0, 50, degreeUnit)
		r.within(at+"/kg_per_day", p.KgPerDay, 0, 1e5, " kg a day")
		m.Curve = append(m.Curve, ice.Point{AirC: p.AirC, WaterC: p.WaterC, KgPerDay: p.KgPerDay})
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	out := makerOut{KgPerDay: m.KgPerDay(in.AirTempC, in.WaterTempC), Basis: v.Say("calc.maker.curve"), remarks: newRemarks(v)}
	if len(in.Curve) == 0 {
		out.Basis = v.Say("calc.maker.rating", "air", typed(v, in.RatedAirC), "water", typed(v, in.RatedWaterC))
	}
	out.say("calc.maker", "daily", v.Number(out.KgPerDay, 1), "air", typed(v, in.AirTempC), "water", typed(v, in.WaterTempC),
		"hourly", v.Number(out.KgPerDay/24, 2), "basis", out.Basis)
	out.caution(models.CautionIceFood)
	return out, nil
}
