package planner

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"hotday/models"
)

func texts(changes []models.Change) []string {
	out := []string{}
	for _, c := range changes {
		out = append(out, c.Kind+": "+plain(c.Text))
	}
	return out
}

func TestChangesOfEachKindInWords(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 15), 4600))
	b := sheetPlan(flashAt(sheetTime(9, 0), 5000), flashAt(sheetTime(12, 45), 5200), flashAt(sheetTime(16, 0), 3000))
	b.Batches[0].Brewer = "right"
	a.Ice.Quotas = []models.IceQuota{
		{Date: sheetDate, DayPart: "morning", Maker: "maker-a", MakeG: 8100, Due: sheetTime(12, 0)},
		{Date: sheetDate, DayPart: "afternoon", Maker: "maker-a", MakeG: 8100, Due: sheetTime(17, 0)}}
	b.Ice.Quotas = []models.IceQuota{
		{Date: sheetDate, DayPart: "morning", Maker: "maker-a", MakeG: 9400, Due: sheetTime(11, 30)},
		{Date: sheetDate, DayPart: "afternoon", Maker: "maker-a", MakeG: 8200, Due: sheetTime(16, 30)}}
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 46}, {Date: sheetDate, DayPart: "afternoon", DrawL: 12}}
	a.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-11", G: 1000, PullBy: sheetTime(9, 0)}, {Date: sheetDate, Coffee: "house", Lot: "h-10", G: 300, PullBy: sheetTime(9, 0)}}
	b.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-11", G: 2000}, {Date: sheetDate, Coffee: "house", Lot: "h-12", G: 500}}
	a.Demand = []models.DemandRange{{Date: sheetDate, DayPart: "morning", Drink: "iced", Mean: 40}, {Date: sheetDate, DayPart: "afternoon", Drink: "iced", Mean: 60}}
	b.Demand = []models.DemandRange{{Date: sheetDate, DayPart: "morning", Drink: "iced", Mean: 40}, {Date: sheetDate, DayPart: "afternoon", Drink: "iced", Mean: 85}}
	a.Warnings = []models.Warning{
		{Kind: models.WarnIceShort, At: sheetTime(14, 45), ChancePct: 38, Cause: "Ice runs short from 14:45."},
		{Kind: models.WarnBeansShort, At: sheetTime(9, 0), Cause: "Beans run short."}}
	b.Warnings = []models.Warning{
		{Kind: models.WarnIceShort, At: sheetTime(15, 0), ChancePct: 52, Cause: "Ice runs short from 15:00."},
		{Kind: models.WarnWaterShort, At: sheetTime(9, 0), Cause: "Water runs short."}}
	assert.Equal(t, []string{
		"batch: flash on right instead of left Sat 09:00, −200 g",
		"batch: flash on left Sat 13:15 → 12:45, +600 g",
		"batch: One more batch: flash on left Sat 16:00, 3 000 g",
		"ice: maker-a by Sat 11:30: 9.4 kg instead of 8.1 kg",
		"ice: maker-a: 8.2 kg due Sat 17:00 → 16:30",
		"water: Treated water for Sat, morning: 46.0 L instead of 40.0 L",
		"water: Treated water for Sat, afternoon: 12.0 L instead of 0.0 L",
		"pull: Pull 2 000 g of house, lot h-11, for Sat instead of 1 000 g",
		"pull: Also pull 500 g of house, lot h-12, for Sat",
		"pull: Leave lot h-10 of house in store on Sat (300 g)",
		"demand: iced on Sat: 125 servings expected instead of 100",
		"warning: Ice runs short from 15:00. (chance 52 % instead of 38 %)",
		"warning: New warning: Water runs short.",
		"warning: No longer: Beans run short.",
	}, texts(Changes(a, b, sheetZone)))
}

func TestWhatWasDueBeforeTheNewerPlanIsPast(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 15), 4600), flashAt(sheetTime(18, 0), 2000))
	b := sheetPlan(flashAt(sheetTime(13, 15), 4600))
	b.ComputedAt = sheetTime(12, 5)
	a.Ice.Quotas = []models.IceQuota{
		{Date: sheetDate, DayPart: "morning", Maker: "maker-a", MakeG: 8100, Due: sheetTime(12, 0)},
		{Date: sheetDate, DayPart: "afternoon", Maker: "maker-a", MakeG: 8100, Due: sheetTime(17, 0)}}
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 0}}
	a.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-11", G: 1000, PullBy: sheetTime(9, 0)}}
	assert.Equal(t, []string{
		"batch: flash on left Sat 18:00 falls away (2 000 g)",
		"ice: maker-a by Sat 17:00: nothing instead of 8.1 kg",
	}, texts(Changes(a, b, sheetZone)), "the batch of 9:00, the morning's ice and water and the beans pulled are done")
}

func TestChangesTooSmallToActOnAreLeftOut(t *testing.T) {
	t.Parallel()
	a, b := sheetPlan(flashAt(sheetTime(9, 0), 5200)), sheetPlan(flashAt(sheetTime(9, 0), 5230))
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40.4}}
	assert.Empty(t, Changes(a, b, sheetZone))
	assert.NotNil(t, Changes(a, b, sheetZone), "an empty list in JSON, not null")
}

func TestABatchMovedToAnotherDayNamesBoth(t *testing.T) {
	t.Parallel()
	a, b := sheetPlan(flashAt(sheetTime(23, 0), 5200)), sheetPlan(flashAt(sheetTime(24, 30), 5200))
	assert.Equal(t, []string{"batch: flash on left Sat 23:00 → Sun 00:30"}, texts(Changes(a, b, sheetZone)))
}

// drawDay draws batches of one brewer at least two hours apart, so that moves of half an hour leave no doubt which is which.
func drawDay(t *rapid.T) []models.BatchTask {
	var out []models.BatchTask
	hour := rapid.IntRange(6, 8).Draw(t, "first")
	for hour < 19 {
		out = append(out, flashAt(sheetTime(hour, 30), float64(rapid.IntRange(1000, 6000).Draw(t, "g"))))
		hour += rapid.IntRange(2, 4).Draw(t, "gap")
	}
	return out
}

func TestIDsStayUnderMovesRemovalsAndAdditions(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	rapid.Check(t, func(t *rapid.T) {
		day := drawDay(t)
		was := PrepSheets(r, sheetPlan(day...), nil, sheetTime(-3, 0))[0]
		before := tasksOf(was, models.TaskBrew)
		var next []models.BatchTask
		var want []string
		for i, b := range day {
			if rapid.Bool().Draw(t, "stays") {
				move := time.Duration(rapid.IntRange(-2, 2).Draw(t, "slots")) * 15 * time.Minute
				b.Start = b.Start.Add(move)
				b.Ready = b.Ready.Add(move)
				next = append(next, b)
				want = append(want, before[i].ID)
			}
		}
		is := PrepSheets(r, sheetPlan(next...), []models.PrepSheet{was}, sheetTime(-3, 0))[0]
		// Where one falls away the next may be taken for it; where all stay each is itself.
		got := tasksOf(is, models.TaskBrew)
		if len(next) == len(day) {
			for i := range got {
				assert.Equal(t, want[i], got[i].ID)
			}
		}
		seen := map[string]bool{}
		for _, task := range is.Tasks {
			assert.False(t, seen[task.ID])
			seen[task.ID] = true
		}
	})
}

func TestWhatIsBegunIsNeverDropped(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	rapid.Check(t, func(t *rapid.T) {
		was := PrepSheets(r, sheetPlan(drawDay(t)...), nil, sheetTime(-3, 0))[0]
		begunBefore := map[string]string{}
		for i := range was.Tasks {
			if s := rapid.SampledFrom([]string{models.Due, models.Started, models.Made, models.Skipped}).Draw(t, "state"); s != models.Due {
				was.Tasks[i].State = s
				begunBefore[was.Tasks[i].ID] = s
			}
		}
		is := PrepSheets(r, sheetPlan(drawDay(t)...), []models.PrepSheet{was}, sheetTime(-3, 0))[0]
		for _, task := range is.Tasks {
			if s, ok := begunBefore[task.ID]; ok {
				assert.Equal(t, s, task.State)
				delete(begunBefore, task.ID)
			}
		}
		assert.Empty(t, begunBefore)
	})
}

func TestBatchesNumberedAnewByThePlanAreStillRecognised(t *testing.T) {
	t.Parallel()
	numberedPlan := func(hours ...int) models.Plan {
		p := sheetPlan()
		for i, h := range hours {
			b := flashAt(sheetTime(h, 0), 5000)
			b.ID = numbered("2026-07-11.left.flash", i+1)
			p.Batches = append(p.Batches, b)
		}
		return p
	}
	assert.Equal(t, []string{"batch: flash on left Sat 08:00 falls away (5 000 g)"}, texts(Changes(numberedPlan(8, 11, 14), numberedPlan(11, 14), sheetZone)))
	assert.Equal(t, []string{"batch: One more batch: flash on left Sat 09:00, 5 000 g"}, texts(Changes(numberedPlan(11, 14), numberedPlan(9, 11, 14), sheetZone)))
}
