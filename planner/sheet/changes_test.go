package sheet

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

func TestChangesOfEachKind(t *testing.T) {
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
		{Kind: models.WarnBeansShort, Subject: "house", At: sheetTime(9, 0), Cause: "Beans run short."}}
	b.Warnings = []models.Warning{
		{Kind: models.WarnIceShort, At: sheetTime(15, 0), ChancePct: 52, Cause: "Ice runs short from 15:00."},
		{Kind: models.WarnWaterShort, At: sheetTime(9, 0), Cause: "Water runs short."}}
	assert.Equal(t, []string{
		"batch: House flash on right instead of left Sat 09:00, −200 g",
		"batch: left on Sat: House flash 13:15 → 12:45, +600 g; one more House flash 16:00, 3 000 g.",
		"ice: maker-a must make 9.4 kg by Sat 11:30 instead of 8.1 kg, 8.2 kg due Sat 17:00 → 16:30",
		"water: Brewing water for Sat: 46 L instead of 40 L for morning and 12 L instead of 0 L for afternoon",
		"pull: Beans for Sat: 2 000 g of house, lot h-11, instead of 1 000 g; also 500 g of house, lot h-12; leave house, lot h-10 (300 g)",
		"demand: Saturday: 125 drinks expected instead of 100.",
		"warning: Ice runs short from 15:00. The chance was 1 in 3.",
		"warning: New warning: Water runs short.",
		"warning: No longer: Saturday 09:00, not enough beans (house).",
	}, texts(Changes(a, b, sheetRequest().Setup)))
}

func TestChangesLeaveOutTasksThatWereDueAlready(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 15), 4600), flashAt(sheetTime(18, 0), 2000))
	b := sheetPlan(flashAt(sheetTime(13, 15), 4600))
	b.ComputedAt = sheetTime(11, 55)
	a.Ice.Quotas = []models.IceQuota{
		{Date: sheetDate, DayPart: "morning", Maker: "maker-a", MakeG: 8100, Due: sheetTime(12, 0)},
		{Date: sheetDate, DayPart: "afternoon", Maker: "maker-a", MakeG: 8100, Due: sheetTime(17, 0)}}
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 0}}
	a.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-11", G: 1000, PullBy: sheetTime(9, 0)}}
	assert.Equal(t, []string{
		"batch: Nothing changes before Sat 18:00.",
		"batch: House flash on left Sat 18:00 is cancelled (2 000 g)",
		"ice: maker-a must make nothing by Sat 17:00 instead of 8.1 kg",
	}, texts(Changes(a, b, sheetRequest().Setup)), "the batch of 9:00, the morning's ice and water and the beans are done")
}

func TestChangesTooSmallToActOnAreLeftOut(t *testing.T) {
	t.Parallel()
	a, b := sheetPlan(flashAt(sheetTime(9, 0), 5200)), sheetPlan(flashAt(sheetTime(9, 0), 5230))
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", DrawL: 40.4}}
	assert.Empty(t, Changes(a, b, sheetRequest().Setup))
	assert.NotNil(t, Changes(a, b, sheetRequest().Setup), "an empty list in JSON, not null")
}

func TestABatchMovedToAnotherDayNamesBoth(t *testing.T) {
	t.Parallel()
	a, b := sheetPlan(flashAt(sheetTime(23, 0), 5200)), sheetPlan(flashAt(sheetTime(24, 30), 5200))
	assert.Equal(t, []string{"batch: House flash on left Sat 23:00 → Sun 00:30"}, texts(Changes(a, b, sheetRequest().Setup)))
}

// drawDay draws batches of one brewer at least two hours apart, so that after moves of half an hour it is clear which is which.
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
		// If one is cancelled, the next may take its place; if all stay, each is itself.
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

func TestBegunTasksAreNeverDropped(t *testing.T) {
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

func TestBatchesAreRecognisedUnderNewNumbers(t *testing.T) {
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
	assert.Equal(t, []string{"batch: House flash on left Sat 08:00 is cancelled (5 000 g)"}, texts(Changes(numberedPlan(8, 11, 14), numberedPlan(11, 14), sheetRequest().Setup)))
	assert.Equal(t, []string{"batch: One more batch: House flash on left Sat 09:00, 5 000 g"}, texts(Changes(numberedPlan(11, 14), numberedPlan(9, 11, 14), sheetRequest().Setup)))
}

func TestChangesLeaveOutBatchesThatHaveBegun(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(9, 45), 5200), flashAt(sheetTime(13, 15), 4600))
	begun := flashAt(sheetTime(9, 10), 5050)
	begun.State = models.Started
	b := sheetPlan(begun, flashAt(sheetTime(10, 15), 5200), flashAt(sheetTime(13, 15), 4600))
	b.ComputedAt = sheetTime(10, 0)
	assert.Equal(t, []string{"batch: House flash on left Sat 09:45 → 10:15"}, texts(Changes(a, b, sheetRequest().Setup)), "the batch of 9:00 was begun; that of 9:45 was not and is later")
	c := sheetPlan(begun, flashAt(sheetTime(10, 15), 5200), flashAt(sheetTime(13, 15), 4600))
	c.ComputedAt = sheetTime(10, 10)
	assert.Empty(t, Changes(b, c, sheetRequest().Setup))
}

func TestBatchesThatMoveAlikeAreOneItem(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(10, 0), 5200), flashAt(sheetTime(12, 0), 4600), flashAt(sheetTime(14, 0), 4600), flashAt(sheetTime(16, 0), 4600))
	b := sheetPlan(flashAt(sheetTime(9, 30), 5200), flashAt(sheetTime(11, 30), 4650), flashAt(sheetTime(13, 30), 4600), flashAt(sheetTime(16, 0), 3000))
	assert.Equal(t, []string{"batch: left on Sat: House flash 10:00, House flash 12:00 and House flash 14:00 each 30 min earlier; House flash 16:00, −1 600 g."},
		texts(Changes(a, b, sheetRequest().Setup)))
}

func TestLaterDaysAreSummarised(t *testing.T) {
	t.Parallel()
	a := sheetPlan(flashAt(sheetTime(10, 0), 5000), flashAt(sheetTime(33, 0), 5000), flashAt(sheetTime(36, 0), 5000), flashAt(sheetTime(39, 0), 5000))
	b := sheetPlan(flashAt(sheetTime(10, 15), 5000), flashAt(sheetTime(33, 30), 5000), flashAt(sheetTime(35, 15), 5000), flashAt(sheetTime(39, 0), 4000), flashAt(sheetTime(42, 0), 2000))
	assert.Equal(t, []string{
		"batch: House flash on left Sat 10:00 → 10:15",
		"batch: Sunday: 2 batches move by up to 45 min, 1 batch changes size or brewer and 1 more; 16.0 kg in all instead of 15.0 kg.",
	}, texts(Changes(a, b, sheetRequest().Setup)))
}

func TestManyChangesOfABrewerAreCountedAfterTheFirst(t *testing.T) {
	t.Parallel()
	var was, is []models.BatchTask
	for h := 8; h < 18; h++ {
		was = append(was, flashAt(sheetTime(h, 0), 3000))
		is = append(is, flashAt(sheetTime(h, 0), 3000+float64(h)*100))
	}
	said := texts(Changes(sheetPlan(was...), sheetPlan(is...), sheetRequest().Setup))
	assert.Len(t, said, 1)
	assert.Contains(t, said[0], "House flash 12:00, +1 200 g; from 13:00 on 5 batches change size or brewer.")
}

func TestChangesLeaveOutDayPartsThatHaveBegun(t *testing.T) {
	t.Parallel()
	a, b := sheetPlan(), sheetPlan()
	b.ComputedAt = sheetTime(13, 0)
	a.Demand = []models.DemandRange{{Date: sheetDate, DayPart: "afternoon", Drink: "iced", Mean: 200}, {Date: sheetDate.AddDays(1), DayPart: "morning", Drink: "iced", Mean: 100}}
	b.Demand = []models.DemandRange{{Date: sheetDate, DayPart: "afternoon", Drink: "iced", Mean: 160}, {Date: sheetDate.AddDays(1), DayPart: "morning", Drink: "iced", Mean: 120}}
	a.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "afternoon", DrawL: 80}}
	b.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "afternoon", DrawL: 50}}
	assert.Equal(t, []string{"demand: Sunday: 120 drinks expected instead of 100."}, texts(Changes(a, b, sheetRequest().Setup)))
}

func TestDrinksThatDoNotChangeAsTheirDayAreNamed(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	r.Drinks = []models.Drink{{Code: "iced", Name: "Iced house"}, {Code: "tonic", Name: "Tonic"}, {Code: "milk"}}
	row := func(drink string, mean float64) models.DemandRange {
		return models.DemandRange{Date: sheetDate, DayPart: "morning", Drink: drink, Mean: mean}
	}
	a, b := sheetPlan(), sheetPlan()
	a.Demand = []models.DemandRange{row("iced", 100), row("tonic", 40), row("milk", 60)}
	b.Demand = []models.DemandRange{row("iced", 120), row("tonic", 48), row("milk", 40)}
	assert.Equal(t, []string{"demand: Saturday: Iced house 120 instead of 100, milk 40 instead of 60 and Tonic 48 instead of 40 expected."}, texts(Changes(a, b, r.Setup)))
	b.Demand = []models.DemandRange{row("iced", 120), row("tonic", 80), row("milk", 72)}
	assert.Equal(t, []string{"demand: Saturday: 272 drinks expected instead of 200; Tonic 80 instead of 40."}, texts(Changes(a, b, r.Setup)))
}
