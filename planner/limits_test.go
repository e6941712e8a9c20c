package planner

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// The checks of planOfRequest hold every plan to its water and beans; here, that what is left is used well and said.
func TestWaterLimitsTheScheduleAndTheWarningSaysHowMuch(t *testing.T) {
	t.Parallel()
	r := small()
	free := fixedPlanOf(t, r)
	require.NotContains(t, kinds(free), models.WarnWaterShort)
	r.Water.TankL, r.Water.OpeningL, r.Water.MakeLPerH = 8, 5, 0.2
	p := fixedPlanOf(t, r)
	drawn := 0.0
	for _, d := range p.Water {
		drawn += d.ROL
	}
	assert.Positive(t, servedBy(p), "the water that is there is used")
	assert.Less(t, servedBy(p), servedBy(free))
	assert.Greater(t, drawn, 3.0, "most of the opening water is used")
	w := warningOf(t, p, models.WarnWaterShort)
	assert.Contains(t, w.Cause, "less is made")
	assert.InDelta(t, (servedBy(free)-servedBy(p))/1000, kilograms(t, w.Cause), 0.5)
	assert.Contains(t, warningOf(t, p, models.WarnBeverageShort).Cause, "RO water")
}

// kilograms reads the kg before "less is made".
func kilograms(t *testing.T, cause string) float64 {
	t.Helper()
	before, _, found := strings.Cut(strings.ReplaceAll(cause, "\u202f", " "), " kg less")
	require.True(t, found, cause)
	fields := strings.Fields(before)
	kg := 0.0
	for _, c := range fields[len(fields)-1] {
		if c >= '0' && c <= '9' {
			kg = 10*kg + float64(c-'0')
		}
	}
	return kg / 10
}

func TestBeansLimitTheSchedule(t *testing.T) {
	t.Parallel()
	r := small()
	r.Coffees[0].Lots[0].Grams = 500
	p := planOfRequest(t, r)
	dose := 0.0
	for _, b := range p.Batches {
		dose += b.DoseG
		assert.NotEmpty(t, b.Lots, "every batch planned has its beans")
	}
	assert.InDelta(t, 500, dose, 5, "all of the lot is used, and no more")
	assert.Contains(t, warningOf(t, p, models.WarnBeansShort).Cause, "less is made")
}

// A plumbed machine's water is never carried, but the treatment must deliver it; filled by hand, it is.
func TestOnlyUnplumbedMachinesAreFilledFromContainers(t *testing.T) {
	t.Parallel()
	r := small()
	r.Ice.OpeningG = 2000
	r.Ice.Makers = []models.IceMaker{{Code: "cuber", KgPerDayRated: 30, RatedAirC: 21, RatedWaterC: 10, Treated: true, Plumbed: true, MineralShare: 1}}
	ice := func(p models.Plan) (l float64) {
		for _, d := range p.Water {
			l += d.IceL
		}
		return l
	}
	p := planOfRequest(t, r)
	assert.Zero(t, ice(p))
	assert.Greater(t, p.Tank.IceL, 5.0)
	r.Ice.Makers[0].Plumbed = false
	p = planOfRequest(t, r)
	assert.Greater(t, ice(p), 5.0)
	assert.Zero(t, p.Tank.IceL)
}

// Water filled before the plan is used before more is filled, and a bottle of concentrate mixed in the week is not mixed again.
func TestAFillAndAMixUnderWayAreNotAskedForAgain(t *testing.T) {
	t.Parallel()
	r := small()
	r.Water.ContainerL = 20
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Mixes)
	first := p.Water[0]
	require.Greater(t, first.DrawL, 5.0)
	l := first.DrawL
	r.UnderWay = []models.UnderWay{{Task: "w", Kind: models.TaskWaterDraw, State: models.Made, Start: r.Now.Add(-time.Hour), L: &l}}
	for i := range p.Mixes {
		m := &p.Mixes[i]
		g, litres := 0.0, m.MakesML/1000
		for _, s := range m.Salts {
			g += s.G
		}
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: "m" + m.Code, Kind: models.TaskMix, State: models.Made, Start: r.Now.Add(-70 * time.Hour), Lot: &m.Code, G: &g, L: &litres})
	}
	again := planOfRequest(t, r)
	assert.Empty(t, again.Mixes)
	filled := func(p models.Plan) (l float64) {
		for _, d := range p.Water {
			l += d.DrawL
		}
		return l
	}
	assert.InDelta(t, filled(p)-l, filled(again), 1.01)
}
