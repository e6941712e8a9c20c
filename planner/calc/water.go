package calc

import (
	"fmt"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/water"
)

type waterIn struct {
	VolumeL      float64            `json:"volume_l"`
	Start        models.Ions        `json:"start"`
	Target       models.WaterTarget `json:"target"`
	Salts        []string           `json:"salts" opt:"false"`
	IceShare     *float64           `json:"ice_share"`     // of the water in the drink
	MineralShare *float64           `json:"mineral_share"` // of the minerals, retained by the ice
}

type saltOut struct {
	Salt string  `json:"salt"`
	G    float64 `json:"g"`
}

type waterMade struct {
	CaMgL              float64 `json:"ca_mg_l"`
	MgMgL              float64 `json:"mg_mg_l"`
	NaMgL              float64 `json:"na_mg_l"`
	KMgL               float64 `json:"k_mg_l"`
	HCO3MgL            float64 `json:"hco3_mg_l"`
	ClMgL              float64 `json:"cl_mg_l"`
	SO4MgL             float64 `json:"so4_mg_l"`
	HardnessMgLCaCO3   float64 `json:"hardness_mg_l_caco3"`
	AlkalinityMgLCaCO3 float64 `json:"alkalinity_mg_l_caco3"`
	TDSMgL             float64 `json:"tds_mg_l"` // sum of the ions, bicarbonate at 0.49 as on drying
}

type waterOut struct {
	DemineralisedShare float64    `json:"demineralised_share"`
	Additions          []saltOut  `json:"additions"`
	Resulting          waterMade  `json:"resulting"` // with the rounded dose
	Feasible           bool       `json:"feasible"`
	Note               string     `json:"note"`
	Unsuitable         []string   `json:"water_unsuitable"`
	DrinkWater         *waterMade `json:"drink_water"` // the water in the drink; null unless ice_share or mineral_share is given
	remarks
}

// calcWater doses salts, after dilution if needed, to a target hardness and alkalinity.
func calcWater(v say.Voice, body []byte) (any, error) {
	var in waterIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	target := water.Target{Hardness: in.Target.HardnessMgLCaCO3, Alkalinity: in.Target.AlkalinityMgLCaCO3, MgShare: in.Target.MgShare}
	d := water.Dose(in.VolumeL, water.IonsOf(in.Start), target, in.Salts)
	out := waterOut{DemineralisedShare: d.DemineralisedShare, Additions: []saltOut{}, Resulting: madeOf(d.Resulting), remarks: newRemarks(v)}
	for _, a := range d.Additions {
		out.Additions = append(out.Additions, saltOut{a.Salt, a.G})
	}
	out.Feasible = d.Reachable && d.LeastVolume() == 0
	out.Note = strings.Join(in.notes(v, d, target), v.Say("said.semicolon"))
	out.sayDose(in.VolumeL, d)
	if out.Unsuitable = v.Unsuitable(d.Resulting); len(out.Unsuitable) > 0 {
		out.warn("calc.water.unsuitable", "why", strings.Join(out.Unsuitable, v.Say("said.semicolon")))
	}
	if in.IceShare != nil || in.MineralShare != nil {
		share := givenOr(in.IceShare, 0)
		drink := water.InDrink(d.Resulting, 1-share, share, givenOr(in.MineralShare, 1))
		made := madeOf(drink)
		out.DrinkWater = &made
		out.say("calc.water.drink", "hardness", v.Number(made.HardnessMgLCaCO3, 0), "alkalinity", v.Number(made.AlkalinityMgLCaCO3, 0))
	}
	out.caution(models.CautionMinerals)
	return out, nil
}

func (in waterIn) check() error {
	var r rangeCheck
	r.within("/volume_l", in.VolumeL, 0.01, 1e6, " L")
	for _, x := range []struct {
		name  string
		value float64
	}{{"ca", in.Start.CaMgL}, {"mg", in.Start.MgMgL}, {"na", in.Start.NaMgL}, {"k", in.Start.KMgL}, {"hco3", in.Start.HCO3MgL},
		{"cl", givenOr(in.Start.ClMgL, 0)}, {"so4", givenOr(in.Start.SO4MgL, 0)}} {
		r.within("/start/"+x.name+"_mg_l", x.value, 0, 5000, " mg/L")
	}
	r.within("/target/hardness_mg_l_caco3", in.Target.HardnessMgLCaCO3, 0, 2000, " mg/L")
	r.within("/target/alkalinity_mg_l_caco3", in.Target.AlkalinityMgLCaCO3, 0, 2000, " mg/L")
	r.within("/target/mg_share", in.Target.MgShare, 0, 1, "")
	for i, s := range in.Salts {
		if !slices.Contains(water.Salts(), s) {
			r.add(fmt.Sprintf("/salts/%d", i), "one of "+strings.Join(water.Salts(), ", "), "%q is not known", s)
		}
	}
	if len(in.Salts) > 20 {
		r.add("/salts", "at most 20", "has %d", len(in.Salts))
	}
	if in.IceShare != nil {
		r.within("/ice_share", *in.IceShare, 0, 1, "")
	}
	if in.MineralShare != nil {
		r.within("/mineral_share", *in.MineralShare, 0, 1, "")
	}
	return r.err()
}

// notes are the reasons why the dose is not what was asked for, and doubts about the analysis.
func (in waterIn) notes(v say.Voice, d water.Dosing, target water.Target) (notes []string) {
	var misses []string
	for _, m := range d.Misses(target) {
		key := "calc.water.below"
		if m.Got > m.Want {
			key = "calc.water.above"
		}
		misses = append(misses, v.Say(key, "property", v.Say(propertyKeys[m.Property]), "got", v.Number(m.Got, 1), "want", v.Number(m.Want, 1)))
	}
	if len(misses) > 0 {
		notes = append(notes, v.Say("calc.water.unreachable", "misses", strings.Join(misses, v.Say("said.comma"))))
	}
	if least := d.LeastVolume(); least > 0 {
		notes = append(notes, v.Say("calc.water.coarse", "volume", typed(v, in.VolumeL), "least", v.Number(least, 0)))
	}
	switch off := water.Imbalance(water.IonsOf(in.Start)); {
	case off > 0:
		notes = append(notes, v.Say("calc.water.cations", "off", v.Number(off, 2)))
	case off < 0:
		notes = append(notes, v.Say("calc.water.anions", "off", v.Number(-off, 2)))
	}
	return notes
}

var propertyKeys = map[water.Property]string{water.CalciumHardness: "calc.water.calcium", water.MagnesiumHardness: "calc.water.magnesium", water.Alkalinity: "calc.water.alkalinity"}

// sayDose says what to mix, and the water that results.
func (r *remarks) sayDose(volumeL float64, d water.Dosing) {
	v := r.voice
	parts := []string{v.Say("calc.water.tap", "volume", typed(v, volumeL))}
	if ro := d.DemineralisedShare; ro > 0 {
		parts[0] = v.Say("calc.water.blend", "ro", v.Number(ro*volumeL, 1), "tap", v.Number((1-ro)*volumeL, 1))
	}
	for _, a := range d.Additions {
		parts = append(parts, v.Say("calc.water.salt", "g", v.Number(a.G, 1), "salt", a.Salt))
	}
	r.say("calc.water", "parts", strings.Join(parts, v.Say("said.comma")), "hardness", v.Number(d.Resulting.Hardness(), 0),
		"alkalinity", v.Number(d.Resulting.Alkalinity(), 0), "solids", v.Number(d.Resulting.Solids(), 0))
}

func madeOf(w water.Ions) waterMade {
	return waterMade{CaMgL: w.Ca, MgMgL: w.Mg, NaMgL: w.Na, KMgL: w.K, HCO3MgL: w.HCO3, ClMgL: w.Cl, SO4MgL: w.SO4,
		HardnessMgLCaCO3: w.Hardness(), AlkalinityMgLCaCO3: w.Alkalinity(), TDSMgL: w.Solids()}
}

type lsiIn struct {
	PH                 float64 `json:"ph"`
	TDSMgL             float64 `json:"tds_mg_l"`
	TempC              float64 `json:"temp_c"`
	CaHardnessMgLCaCO3 float64 `json:"ca_hardness_mg_l_caco3"`
	AlkalinityMgLCaCO3 float64 `json:"alkalinity_mg_l_caco3"`
}

type lsiOut struct {
	PHS float64 `json:"ph_s"`
	LSI float64 `json:"lsi"`
	remarks
}

// calcLSI finds the Langelier saturation index.
func calcLSI(v say.Voice, body []byte) (any, error) {
	var in lsiIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	var r rangeCheck
	r.within("/ph", in.PH, 0, 14, "")
	r.within("/tds_mg_l", in.TDSMgL, 1, 1e5, " mg/L")
	r.within("/temp_c", in.TempC, 0, 100, degreeUnit)
	r.within("/ca_hardness_mg_l_caco3", in.CaHardnessMgLCaCO3, 0.1, 1e5, " mg/L")
	r.within("/alkalinity_mg_l_caco3", in.AlkalinityMgLCaCO3, 0.1, 1e5, " mg/L")
	if err := r.err(); err != nil {
		return nil, err
	}
	out := lsiOut{PHS: water.SaturationPH(in.TDSMgL, in.TempC, in.CaHardnessMgLCaCO3, in.AlkalinityMgLCaCO3), remarks: newRemarks(v)}
	out.LSI = water.LangelierIndex(in.PH, in.TDSMgL, in.TempC, in.CaHardnessMgLCaCO3, in.AlkalinityMgLCaCO3)
	key := "calc.lsi"
	switch {
	case out.LSI > 0.3:
		key = "calc.lsi.scale"
	case out.LSI < -0.3:
		key = "calc.lsi.corrode"
	}
	out.say(key, "lsi", v.Typed(fmt.Sprintf("%+.2f", out.LSI)), "temp", typed(v, in.TempC))
	out.caution(models.CautionScaleLime)
	return out, nil
}
