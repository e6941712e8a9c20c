package calc

import (
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/say"
)

// The ice shares for which a recipe is worked out: 0 to 60 % in steps of 2 %.
const (
	iceShareSteps = 30
	iceShareStep  = 0.02
)

type iceSharesIn struct {
	Ratio          float64  `json:"ratio"` // total water, ice included, g per g
	BrewerOutTempC float64  `json:"brewer_out_temp_c"`
	IceTempC       float64  `json:"ice_temp_c"`
	TargetTempC    float64  `json:"target_temp_c"`
	RetainedRatio  float64  `json:"retained_ratio" default:"2.1"`
	MaxYieldPct    float64  `json:"max_yield_pct" default:"21.8"`
	WetShare       float64  `json:"wet_share" default:"0"`
	AltitudeM      *float64 `json:"altitude_m"`
	MaxDoseG       *float64 `json:"max_dose_g"` // of the brewer; null: no limit, as of the next two
	MaxWaterG      *float64 `json:"max_water_g"`
	MaxBeverageG   *float64 `json:"max_beverage_g"`
}

// iceShareRow is the recipe with one ice share.
type iceShareRow struct {
	IceShare               float64  `json:"ice_share"`
	YieldPct               float64  `json:"yield_pct"`
	FinalTDSPct            float64  `json:"final_tds_pct"` // with all the ice melted
	FinalTempIfIcedAtOnceC float64  `json:"final_temp_if_iced_at_once_c"`
	PrecoolNeededC         float64  `json:"precool_needed_c"`
	LargestBatchG          *float64 `json:"largest_batch_g"` // finished beverage in one run of the brewer; null: no limit is given
}

type iceSharesOut struct {
	Rows                      []iceShareRow `json:"rows"`                         // by rising ice share, as far as the recipe has enough brew water
	ShareNeededWithoutPrecool *float64      `json:"share_needed_without_precool"` // null: no share is enough
	remarks
}

// calcIceShares works out a recipe for each ice share, with everything else kept: how its strength, yield, temperature and largest batch
// follow from the part of the water that is ice.
func calcIceShares(v say.Voice, body []byte) (any, error) {
	var in iceSharesIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	if err := in.check(); err != nil {
		return nil, err
	}
	limits := limitsOf(in.MaxDoseG, in.MaxWaterG, in.MaxBeverageG)
	out := iceSharesOut{Rows: []iceShareRow{}, remarks: newRemarks(v)}
	for i := range iceShareSteps + 1 {
		rec := brew.Recipe{Ratio: in.Ratio, IceShare: math.Round(float64(i)*iceShareStep*100) / 100, RetainedRatio: in.RetainedRatio, MaxYieldPct: in.MaxYieldPct}
		s, err := rec.SplitIce(1, in.BrewerOutTempC, in.IceTempC, in.WetShare, in.TargetTempC)
		if err != nil {
			break
		}
		out.ShareNeededWithoutPrecool = orNull(s.ShareNeeded)
		row := iceShareRow{IceShare: rec.IceShare, YieldPct: s.YieldPct, FinalTDSPct: rec.FinalTDSPct(),
			FinalTempIfIcedAtOnceC: s.AtOnce.FinalC, PrecoolNeededC: s.PrecoolC}
		if g, by := rec.LargestBatch(limits); by != brew.Unbounded {
			row.LargestBatchG = &g
		}
		out.Rows = append(out.Rows, row)
	}
	if len(out.Rows) == 0 {
		return nil, models.Invalid("/ratio", fmt.Sprintf("above %s", decimal(in.RetainedRatio)), "the grounds would keep all the water")
	}
	if first, last := out.Rows[0], out.Rows[len(out.Rows)-1]; len(out.Rows) > 1 {
		out.say("calc.shares", "from", v.Number(first.FinalTDSPct, 2), "to", v.Number(last.FinalTDSPct, 2), "share", v.Number(100*last.IceShare, 0),
			"yield", v.Number(first.YieldPct, 1), "yield_to", v.Number(last.YieldPct, 1))
	}
	switch s := out.ShareNeededWithoutPrecool; {
	case s == nil:
		out.say("calc.shares.never", "temp", typed(v, in.TargetTempC))
	case *s > 0:
		out.say("calc.shares.enough", "share", v.Number(math.Ceil(100**s-1e-9), 0), "temp", typed(v, in.TargetTempC))
	}
	if in.BrewerOutTempC > scaldC {
		out.caution(models.CautionScald, models.CautionGlass)
	}
	out.caution(models.CautionIceFood)
	if in.TargetTempC > chill.SafeStoreC {
		out.caution(models.CautionCooling)
	}
	return out, nil
}

func (in iceSharesIn) check() error {
	var r rangeCheck
	r.within("/ratio", in.Ratio, 1, maxRatio, " g per g")
	r.brewTemperatures(in.BrewerOutTempC, in.IceTempC, in.TargetTempC, in.WetShare, in.AltitudeM)
	r.checkCoffee(in.RetainedRatio, in.MaxYieldPct)
	r.brewerLimits(minG, in.MaxDoseG, in.MaxWaterG, in.MaxBeverageG)
	return r.err()
}
