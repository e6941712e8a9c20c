package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestIceForBathsIsNamedAsSuch(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	r.Ice.Moulds[0].Treated = false
	p := sheetPlan(flashAt(sheetTime(9, 0), 5200))
	p.Batches[0].BathWaterL, p.Batches[0].BathFromDrinksG = 6, 600
	p.Ice.Quotas = []models.IceQuota{{Date: sheetDate, DayPart: "morning", Maker: "forms", MakeG: 5000, Due: sheetTime(12, 0), BathIce: true, Loads: []models.IceLoad{
		{FillAt: sheetTime(-7, 0), TakeAt: sheetTime(6, 0), G: 2500}, {FillAt: sheetTime(6, 0), TakeAt: sheetTime(11, 0), G: 2500}}}}
	p.Ice.Checks = []models.IceQuota{{Date: sheetDate, DayPart: "morning", Maker: "forms", Due: sheetTime(6, 0), LevelG: 12_000, Quarters: 3, BinG: 16_000, BathIce: true}}
	s := oneSheet(t, r, p)
	for _, kind := range []string{models.TaskIceFill, models.TaskIceRefill, models.TaskIceTake, models.TaskIceCheck} {
		tasks := tasksOf(s, kind)
		require.Len(t, tasks, 1, kind)
		assert.Contains(t, tasks[0].Say, "not for drinks", kind)
		assert.NotContains(t, tasks[0].Say, "brewing water", kind)
		assert.Equal(t, models.CautionBathIce, tasks[0].CautionCode, kind)
	}
	assert.Equal(t, "left: House flash. Ice bath (6 L tap water, 2.1 kg ice-bath ice) to 35 °C (600 g of the ice from the ice bin), stir in 1 170 g ice.",
		plain(tasksOf(s, models.TaskChill)[0].Say))
	v := newWording(&r.Setup)
	assert.Equal(t, "forms (ice-bath ice, not for drinks)", v.StationName("forms", &r.Ice))
	assert.Equal(t, "maker-a", v.StationName("maker-a", &r.Ice))
}

// One bin has one look, however many machines fill it, and says what to do while it can be done.
func TestALookIntoTheIceBinSaysWhatToDo(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	p := sheetPlan()
	p.Ice.Checks = []models.IceQuota{{Date: sheetDate, DayPart: "morning", Maker: "maker-a", Makers: []string{"maker-a", "maker-b"}, Due: sheetTime(10, 30), LevelG: 58_000, Quarters: 4, BinG: 60_000}}
	say := func() models.Task {
		t.Helper()
		checks := tasksOf(oneSheet(t, r, p), models.TaskIceCheck)
		require.Len(t, checks, 1)
		return checks[0]
	}
	assert.Equal(t, "Ice bin full (58.0 kg)? If not, ring the manager.", plain(say().Say))
	assert.Equal(t, "ice bin", say().Station)
	r.Ice.Bought = &models.BoughtIce{BagG: 10_000, OrderBy: "12:00"}
	assert.Equal(t, "Ice bin full (58.0 kg)? If not, buy 2 bags of ice (10.0 kg each) by 12:00.", plain(say().Say))
	r.Ice.Bought.OrderBy = "09:00"
	assert.Contains(t, say().Say, "ring the manager", "it is too late to buy")
}

func TestWellsAreFilledFromTheIceBin(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	r.Site.IceWells = []models.IceWell{{Code: "the bar well", HoldsG: 25_000, CarryMin: 7}}
	p := sheetPlan()
	p.Ice.WellFills = []models.WellFill{{Well: "the bar well", At: sheetTime(6, 30), G: 25_000}, {Well: "the bar well", At: sheetTime(12, 30), G: 8000}}
	fills := tasksOf(oneSheet(t, r, p), models.TaskGet)
	require.Len(t, fills, 2)
	assert.Equal(t, "Fill the bar well: 8.0 kg from the ice bin.", plain(fills[1].Say))
	assert.Equal(t, []int{2, 1}, []int{fills[0].Hands, fills[1].Hands}, "two people lift over 20 kg")
	assert.True(t, fills[1].Until.Equal(sheetTime(12, 37)))
	assert.Equal(t, models.CautionIceFood, fills[1].CautionCode)
	assert.Equal(t, p.Ice.WellFills[1], *fills[1].Well)
}

// Emptying a load that was filled by a refill stays on the sheet although a replan no longer has it.
func TestALoadThatARefillFilledIsStillEmptied(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	p := sheetPlan()
	p.Ice.Quotas = []models.IceQuota{{Date: sheetDate, DayPart: "morning", Maker: "forms", MakeG: 5000, Due: sheetTime(12, 0), Loads: []models.IceLoad{
		{FillAt: sheetTime(-7, 0), TakeAt: sheetTime(6, 0), G: 2500}, {FillAt: sheetTime(6, 0), TakeAt: sheetTime(11, 0), G: 2500}}}}
	was := oneSheet(t, r, p)
	for i := range was.Tasks {
		if was.Tasks[i].Kind == models.TaskIceRefill {
			was.Tasks[i].State = models.Made
		}
	}
	without := sheetPlan()
	without.ComputedAt = sheetTime(7, 0)
	is := oneSheet(t, r, without, was)
	assert.Len(t, tasksOf(is, models.TaskIceTake), 1)
}
