package sheet

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

var sheetZone = must(time.LoadLocation("Europe/Vienna"))

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// sheetTime is a time of Saturday 2026-07-11; hours below 0 or above 23 are on the days around it.
func sheetTime(hour, minute int) time.Time {
	return time.Date(2026, 7, 11, hour, minute, 0, 0, sheetZone)
}

const sheetDate = models.Date("2026-07-11")

func sheetRequest() models.PlanRequest {
	var r models.PlanRequest
	r.Site = models.Site{
		Code: "harbour", Timezone: "Europe/Vienna", SetupMin: 60, SlotMin: 15, MaxHoldH: 24,
		DayParts: []models.DayPart{{Code: "morning", From: "07:00", To: "12:00"}, {Code: "afternoon", From: "12:00", To: "20:00"}},
		Opening:  []models.Opening{{Weekday: "sat", From: "07:00", To: "20:00"}, {Weekday: "sun", From: "07:00", To: "20:00"}, {Weekday: "fri", From: "07:00", To: "18:00"}},
	}
	r.From, r.Days, r.Now = sheetDate, 1, sheetTime(-9, 0)
	r.Beverages = []models.Beverage{
		{Code: "flash", Name: "House flash", Method: models.Flash, Bath: true, HoldH: 8},
		{Code: "steep", Name: "Slow steep", Method: models.Steeped, SteepTempC: 5, HoldH: 24},
	}
	r.Brewers = []models.Brewer{{Code: "left", BusyMin: 15}, {Code: "right", BusyMin: 15}, {Code: "tub", BusyMin: 20}}
	r.Ice.Moulds = []models.MouldSet{{Code: "forms", LoadG: 2500, Treated: true}}
	r.Ice.Makers = []models.IceMaker{{Code: "maker-a", Treated: true}}
	return r
}

func flashAt(start time.Time, g float64) models.BatchTask {
	cool := 35.0
	return models.BatchTask{
		Brewer: "left", Beverage: "flash", Date: sheetDate, Start: start, IceAt: start.Add(25 * time.Minute), Ready: start.Add(30 * time.Minute), UseBy: start.Add(510 * time.Minute),
		DoseG: 400, BrewWaterG: 4670, IceG: 1170, BeverageG: g, BrewerOutTempC: 82, CoolToBeforeIceC: &cool, BathIceG: 2100,
		ExpectedTDSPct: 1.41, IceTempC: -10, FinalTempC: 7, State: models.Due, Lots: []models.LotUse{{Lot: "h-12", G: 400}}, CoffeeLot: "h-12",
	}
}

func sheetPlan(batches ...models.BatchTask) models.Plan {
	return models.Plan{Revision: 1, From: sheetDate, Days: 1, ComputedAt: sheetTime(-9, 0), Batches: batches, Cautions: []string{"Hot liquid scalds."}, CautionCodes: []models.Caution{models.CautionScald}}
}

func oneSheet(t *testing.T, r models.PlanRequest, p models.Plan, previous ...models.PrepSheet) models.PrepSheet {
	t.Helper()
	sheets := PrepSheets(r, p, previous, sheetTime(-3, 0))
	require.Len(t, sheets, 1)
	return sheets[0]
}

func tasksOf(s models.PrepSheet, kind string) []models.Task {
	var out []models.Task
	for _, t := range s.Tasks {
		if t.Kind == kind {
			out = append(out, t)
		}
	}
	return out
}

// plain replaces no-break spaces by ordinary ones.
func plain(s string) string { return plainSpaces(s) }

func linesOf(s models.PrepSheet) []models.Task { return s.Lines() }

// ofBatch are the steps of one batch by kind.
func ofBatch(s models.PrepSheet, id string) map[string]models.Task {
	out := map[string]models.Task{}
	for _, t := range s.Tasks {
		if t.Batch != nil && t.Batch.ID == id && t.Kind != models.TaskDiscard {
			out[t.Kind] = t
		}
	}
	return out
}

func TestABatchIsOneLineWithItsStepsAndAmounts(t *testing.T) {
	t.Parallel()
	s := oneSheet(t, sheetRequest(), sheetPlan(flashAt(sheetTime(9, 0), 5200)))
	require.Len(t, linesOf(s), 1)
	brew := linesOf(s)[0]
	assert.Equal(t, "left: House flash, 5.2 kg. 400 g coffee (h-12), 4 670 g water. Ice bath (add 2.1 kg ice-bath ice) to 35 °C, stir in 1 170 g ice. Use by 17:30.", plain(brew.Say))
	assert.Equal(t, models.CautionScald, brew.CautionCode)
	assert.Equal(t, []models.Caution{models.CautionScald, models.CautionBathIce, models.CautionGlass, models.CautionCooling, models.CautionHolding}, brew.CautionCodes, "those of all steps")
	for _, care := range []string{"scald", "food safety rules", "Never serve", "shatter"} {
		assert.Contains(t, brew.Caution, care)
	}
	assert.Equal(t, "flash", brew.Beverage)
	assert.Equal(t, []models.LotUse{{Lot: "h-12", G: 400}}, brew.Lots)
	assert.Equal(t, "left", brew.Station)
	assert.Equal(t, "For 09:30 to 17:30.", plain(brew.Why))
	assert.True(t, brew.Mark, "one mark for the batch")
	steps := ofBatch(s, brew.Batch.ID)
	require.Len(t, steps, 3)
	chill, store := steps[models.TaskChill], steps[models.TaskStore]
	assert.Equal(t, "left: House flash. Ice bath (add 2.1 kg ice-bath ice) to 35 °C, stir in 1 170 g ice.", plain(chill.Say))
	assert.Equal(t, "left: House flash into the cold store, about 5.2 kg. Probe it, label it, use by 17:30.", plain(store.Say))
	assert.Equal(t, []models.Caution{models.CautionScald, models.CautionBathIce, models.CautionGlass, models.CautionCooling}, chill.CautionCodes)
	assert.Equal(t, []models.Caution{models.CautionCooling, models.CautionHolding}, store.CautionCodes)
	for _, step := range []models.Task{chill, store} {
		assert.Equal(t, brew.ID, step.PartOf)
		assert.False(t, step.Mark)
	}
	times := func(task models.Task) []string {
		return []string{task.At.In(sheetZone).Format("15:04"), task.Until.In(sheetZone).Format("15:04")}
	}
	assert.Equal(t, []string{"09:00", "09:05"}, times(brew))
	assert.Equal(t, []string{"09:15", "09:19"}, times(chill), "cooling begins as the brewer is done, not when the ice goes in")
	assert.Equal(t, []string{"09:25", "09:30"}, times(store), "it is in the cold store when it is ready")
	assert.Equal(t, []string{"Hot liquid scalds."}[0], s.Cautions[0])
	assert.Empty(t, s.Changes, "nothing comes before the first sheet")
}

func TestWorkTakesTheTimeOfTheSite(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	r.Brewers[0].ByHand = true
	r.Site.WorkMin = &models.WorkMin{Brew: 7, BathFlash: 6, Store: 3}
	s := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200)))
	steps := ofBatch(s, linesOf(s)[0].Batch.ID)
	brew, chill, store := steps[models.TaskBrew], steps[models.TaskChill], steps[models.TaskStore]
	assert.Equal(t, 15*time.Minute, brew.Until.Sub(brew.At), "by hand: as long as the brewer is busy")
	assert.Equal(t, 6*time.Minute, chill.Until.Sub(chill.At))
	assert.Equal(t, 3*time.Minute, store.Until.Sub(store.At))
}

func TestSizesAreSaidAsPeopleKnowThem(t *testing.T) {
	t.Parallel()
	size := func(g float64, change func(*models.Brewer)) string {
		r := sheetRequest()
		change(&r.Brewers[0])
		said := plain(linesOf(oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), g))))[0].Say)
		return strings.SplitN(strings.SplitN(said, ", ", 2)[1], ". ", 2)[0] + strings.TrimPrefix(said[strings.LastIndex(said, "ice. "):], "ice.")
	}
	to6 := func(b *models.Brewer) { b.MaxBeverageG = 6000 }
	assert.Equal(t, "full Makes 5.8 kg, use by 17:30.", size(5760, to6))
	assert.Equal(t, "half Makes 3.0 kg, use by 17:30.", size(3040, to6))
	assert.Equal(t, "4.2 kg Use by 17:30.", size(4200, to6))
	assert.Equal(t, "full Makes 4.0 kg, use by 17:30.", size(4000, func(b *models.Brewer) { b.MaxBeverageG, b.SizesG = 6000, []float64{2000, 4000} }))
}

func TestTwoPeopleLiftWhatIsHeavy(t *testing.T) {
	t.Parallel()
	b := flashAt(sheetTime(9, 0), 24000)
	b.IceG = 6000
	s := oneSheet(t, sheetRequest(), sheetPlan(b))
	steps := ofBatch(s, linesOf(s)[0].Batch.ID)
	assert.Equal(t, 1, steps[models.TaskBrew].Hands)
	assert.Equal(t, 1, steps[models.TaskChill].Hands, "18 kg before the ice")
	assert.Equal(t, 2, steps[models.TaskStore].Hands)
	assert.Contains(t, steps[models.TaskStore].Say, "two people")
}

func TestABatchIcedAtOnceNeedsNoBath(t *testing.T) {
	t.Parallel()
	b := flashAt(sheetTime(9, 0), 5200)
	b.CoolToBeforeIceC, b.BathIceG = nil, 0
	chill := tasksOf(oneSheet(t, sheetRequest(), sheetPlan(b)), models.TaskChill)[0]
	assert.Equal(t, "left: House flash. Stir in 1 170 g ice.", plain(chill.Say))
	assert.True(t, chill.At.Equal(sheetTime(9, 25)))
	assert.NotContains(t, chill.Caution, say.In(words.English).Caution(models.CautionBathIce))
}

func TestALongBathHasALineForTheColdStore(t *testing.T) {
	t.Parallel()
	b := flashAt(sheetTime(9, 0), 5200)
	b.IceG, b.IceAt, b.Ready = 0, time.Time{}, sheetTime(11, 0)
	cooling := 93.0
	b.CoolingMin = &cooling
	s := oneSheet(t, sheetRequest(), sheetPlan(b))
	lines := linesOf(s)
	require.Len(t, lines, 2)
	assert.Equal(t, "left: House flash, 5.2 kg. 400 g coffee (h-12), 4 670 g water. Ice bath (add 2.1 kg ice-bath ice) to 7 °C, about 1 h 35 min.", plain(lines[0].Say))
	assert.False(t, lines[0].Mark)
	assert.Equal(t, models.TaskStore, lines[1].Kind)
	assert.True(t, lines[1].Mark, "its last line is marked")
	assert.True(t, lines[1].At.Equal(sheetTime(10, 55)))
}

func TestColdBrewStartedTheEveningBeforeIsOnTheSameSheet(t *testing.T) {
	t.Parallel()
	b := models.BatchTask{
		Brewer: "tub", Beverage: "steep", Start: sheetTime(-6, 0), StrainAt: sheetTime(8, 0), Ready: sheetTime(8, 30), UseBy: sheetTime(32, 30),
		DoseG: 1200, BrewWaterG: 12600, BeverageG: 9700, State: models.Due, Serves: "the whole of Saturday",
	}
	s := oneSheet(t, sheetRequest(), sheetPlan(b))
	lines := linesOf(s)
	require.Len(t, lines, 2)
	assert.Equal(t, models.TaskBrew, lines[0].Kind)
	assert.Equal(t, "tub: Slow steep for Saturday, 9.7 kg. 1 200 g coffee, 12.6 kg water. Fridge; strain Sat 08:00.", plain(lines[0].Say))
	assert.Equal(t, "For the whole of Saturday.", lines[0].Why)
	assert.Contains(t, lines[0].Caution, "cold")
	assert.False(t, lines[0].Mark)
	assert.Equal(t, models.TaskStrain, lines[1].Kind)
	assert.Equal(t, "tub: strain Slow steep, about 9.7 kg. Use by Sun 08:30.", plain(lines[1].Say))
	assert.Equal(t, "Steeping since Fri 18:00, 14 h.", plain(lines[1].Why))
	assert.Equal(t, 40*time.Minute, lines[1].Until.Sub(lines[1].At))
	assert.True(t, lines[1].Mark)
	store := tasksOf(s, models.TaskStore)[0]
	assert.Equal(t, lines[1].ID, store.PartOf)
	assert.False(t, store.At.Before(lines[1].Until))
}

func TestIceWaterAndBeansBecomeTasks(t *testing.T) {
	t.Parallel()
	p := sheetPlan()
	p.Ice.Quotas = []models.IceQuota{
		{Date: sheetDate, DayPart: "morning", Maker: "maker-a", MakeG: 9400, Due: sheetTime(11, 30)}, // no task: nobody can see it
		{Date: sheetDate, DayPart: "morning", Maker: "forms", MakeG: 5000, Due: sheetTime(12, 0), Loads: []models.IceLoad{
			{FillAt: sheetTime(-7, 0), TakeAt: sheetTime(6, 0), G: 2500}, {FillAt: sheetTime(6, 0), TakeAt: sheetTime(11, 0), G: 2500}}},
	}
	p.Ice.Checks = []models.IceQuota{{Date: sheetDate, DayPart: "morning", Maker: "maker-a", Makers: []string{"maker-a"}, MakeG: 9400, Due: sheetTime(10, 30), LevelG: 30_000, Quarters: 2, BinG: 60_000}}
	p.Water = []models.WaterDraw{{Date: sheetDate, DayPart: "morning", At: sheetTime(6, 15), By: sheetTime(6, 30), Containers: 2, DrawL: 40, ROL: 33, TapL: 7, BrewL: 30, IceL: 6, TankAfterL: 14,
		Concentrates: []models.ConcentrateDose{{Code: "A", ML: 20}, {Code: "B", ML: 15}}, Dose: []models.SaltDose{{Salt: "CaCl2.2H2O", G: 0.45}}}}
	p.Mixes = []models.Mix{{At: sheetTime(5, 45), Code: "A", Salts: []models.SaltDose{{Salt: "CaCl2.2H2O", G: 5.6}}, WaterML: 200, MakesML: 250, MLPerL: 0.5, GoodTo: sheetTime(5, 45).AddDate(0, 0, 7)}}
	p.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-12", G: 1200, FromPlace: "freezer", PullBy: sheetTime(-7, 0), UseFrom: sheetTime(6, 0)}}
	r := sheetRequest()
	r.Water.ContainerL = 20
	s := oneSheet(t, r, p)
	checks := tasksOf(s, models.TaskIceCheck)
	require.Len(t, checks, 1)
	assert.Equal(t, "Ice bin at least half full (30.0 kg)? If not, ring the manager.", plain(checks[0].Say))
	assert.True(t, checks[0].At.Equal(sheetTime(10, 30)))
	assert.True(t, checks[0].Until.Equal(sheetTime(10, 35)))
	assert.Equal(t, "maker-a", checks[0].Station)
	fills, refills, takes := tasksOf(s, models.TaskIceFill), tasksOf(s, models.TaskIceRefill), tasksOf(s, models.TaskIceTake)
	require.Len(t, fills, 1)
	require.Len(t, refills, 1)
	require.Len(t, takes, 1)
	assert.Equal(t, "Fill forms with 2.5 kg of brewing water and freeze.", plain(fills[0].Say))
	assert.Equal(t, "Empty forms into the ice bin, 2.5 kg. Refill with 2.5 kg of brewing water and freeze.", plain(refills[0].Say))
	assert.True(t, refills[0].At.Equal(sheetTime(6, 0)))
	assert.Len(t, refills[0].Quota.Loads, 2, "the one emptied and the one filled")
	assert.Equal(t, 1, refills[0].Hands)
	assert.Equal(t, "Empty forms into the ice bin, 2.5 kg.", plain(takes[0].Say))
	assert.Contains(t, takes[0].Caution, "Ice is food")
	draw := tasksOf(s, models.TaskWaterDraw)[0]
	assert.Equal(t, "Fill 2 × 20 L, each: 16.5 L RO + 3.5 L tap, 10 mL A, 7.5 mL B.", plain(draw.Say))
	assert.True(t, draw.At.Equal(sheetTime(6, 15)) && draw.Until.Equal(sheetTime(6, 25)), "five minutes for each container")
	assert.Equal(t, 1, draw.Hands)
	assert.Equal(t, "First used 06:30. For brewing 30 L, ice 6 L; the tank then holds 14 L.", plain(draw.Why))
	mix := tasksOf(s, models.TaskMix)[0]
	assert.Equal(t, "Mix concentrate A: dissolve 5.6 g CaCl2.2H2O in 200 mL RO water, fill up to 250 mL.", plain(mix.Say))
	assert.Contains(t, mix.Why, "throw it away on")
	assert.Contains(t, mix.Caution, "never taste")
	assert.Equal(t, p.Mixes[0], *mix.Mix)
	assert.Contains(t, draw.Caution, "never taste")
	assert.Equal(t, models.CautionMinerals, draw.CautionCode)
	assert.Equal(t, p.Water[0], *draw.Draw)
	pull := tasksOf(s, models.TaskPull)[0]
	assert.Equal(t, "Take 1 200 g of house, lot h-12, out of the freezer. Keep closed until Sat 06:00.", plain(pull.Say))
	assert.Equal(t, p.Pulls, pull.Pulls)
	assert.Equal(t, p.Pulls[0], *pull.Pull, "for clients that do not know pulls")
	ids := map[string]bool{}
	for i, task := range s.Tasks {
		assert.Regexp(t, "^[a-z2-7]{16}$", task.ID)
		assert.False(t, ids[task.ID], "an id twice")
		ids[task.ID] = true
		if i > 0 {
			assert.False(t, task.At.Before(s.Tasks[i-1].At), "in order of time")
		}
	}
}

func TestLeftoversAreThrownAwayWhileSomebodyIsThere(t *testing.T) {
	t.Parallel()
	first, second := flashAt(sheetTime(9, 0), 5000), flashAt(sheetTime(13, 0), 4000)
	first.ID, second.ID = "first", "second"
	p := sheetPlan(first, second)
	p.Left = []models.LotLeft{{Batch: "first", Beverage: "flash", MadeAt: first.Ready, UseBy: first.UseBy, G: 600}, {Batch: "second", Beverage: "flash", MadeAt: second.Ready, UseBy: second.UseBy, G: 500},
		{Batch: "second", Beverage: "flash", MadeAt: second.Ready, UseBy: second.UseBy, G: 900, Carried: true}}
	assert.Len(t, tasksOf(oneSheet(t, sheetRequest(), p), models.TaskDiscard), 1, "nobody is there from the second batch's use-by time on")
	p.Days = 2
	sheets := PrepSheets(sheetRequest(), p, nil, sheetTime(-3, 0))
	discards := slices.Concat(tasksOf(sheets[0], models.TaskDiscard), tasksOf(sheets[1], models.TaskDiscard))
	require.Len(t, discards, 2)
	assert.True(t, discards[0].At.Equal(first.UseBy))
	assert.Equal(t, "House flash: throw away the rest of the batch of 09:00 in left, about 600 g.", plain(discards[0].Say))
	assert.Equal(t, models.Discard{Beverage: "flash", G: 600}, *discards[0].Discard)
	assert.True(t, discards[1].At.Equal(sheetTime(30, 0)), "nobody is there at its use-by 21:30: %v", discards[1].At)
	assert.Equal(t, "House flash: throw away the rest of the batch of Sat 13:00 in left, about 500 g.", plain(discards[1].Say))
}

func TestAMovedBatchKeepsItsIDAndIsListedAsAChange(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	was := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 15), 4600)))
	p := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(12, 45), 5200))
	p.Revision = 2
	is := oneSheet(t, r, p, was)
	assert.Equal(t, ids(was), ids(is))
	assert.Equal(t, []string{"House flash on left Sat 13:15 → 12:45, +600 g"}, plainAll(is.Changes))
	assert.Equal(t, 2, is.Revision)
}

func TestOtherBatchesKeepTheirIDsWhenOneIsCancelled(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	was := oneSheet(t, r, sheetPlan(flashAt(sheetTime(8, 0), 5000), flashAt(sheetTime(11, 0), 5000), flashAt(sheetTime(14, 0), 5000)))
	is := oneSheet(t, r, sheetPlan(flashAt(sheetTime(11, 15), 5000), flashAt(sheetTime(14, 0), 5000)), was)
	a, b := tasksOf(was, models.TaskBrew), tasksOf(is, models.TaskBrew)
	assert.Equal(t, []string{a[1].ID, a[2].ID}, []string{b[0].ID, b[1].ID})
	assert.Equal(t, []string{"left on Sat: House flash 08:00 is cancelled (5 000 g); House flash 11:00 → 11:15."}, plainAll(is.Changes))
	again := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 30), 5000), flashAt(sheetTime(11, 15), 5000), flashAt(sheetTime(14, 0), 5000)), is)
	c := tasksOf(again, models.TaskBrew)
	assert.Equal(t, []string{b[0].ID, b[1].ID}, []string{c[1].ID, c[2].ID}, "a new one before them does not take their ids")
}

func TestBegunTasksStay(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	was := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 0), 5200)))
	for i := range was.Tasks {
		if task := &was.Tasks[i]; task.Kind == models.TaskBrew && task.At.Equal(sheetTime(9, 0)) {
			task.State = models.Started
		}
	}
	is := oneSheet(t, r, sheetPlan(flashAt(sheetTime(13, 0), 5200)), was)
	brews := tasksOf(is, models.TaskBrew)
	require.Len(t, brews, 2, "a plan without it does not remove it")
	assert.Equal(t, models.Started, brews[0].State)
	assert.Equal(t, tasksOf(was, models.TaskBrew)[0], brews[0])
	assert.Len(t, tasksOf(is, models.TaskChill), 2, "its next step is still to do")
	assert.Empty(t, is.Changes)

	moved := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 15), 5000), flashAt(sheetTime(13, 0), 5200)), was)
	assert.Equal(t, brews[0], tasksOf(moved, models.TaskBrew)[0], "as it was when it was started")
}

func TestABatchUnderWayKeepsItsTaskInAReplan(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	was := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(10, 0), 5200)))
	first := tasksOf(was, models.TaskBrew)[0]
	kept := flashAt(sheetTime(9, 40), 5000) // started late: nearer to the second's time than to its own
	kept.ID, kept.State = first.ID, models.Started
	p := sheetPlan(kept, flashAt(sheetTime(11, 0), 5200))
	p.Made = []models.UnderWayMade{{Task: first.ID, Kind: models.TaskBrew, State: models.Started}}
	is := oneSheet(t, r, p, was)
	brews := tasksOf(is, models.TaskBrew)
	require.Len(t, brews, 2)
	assert.Equal(t, first.ID, brews[0].ID)
	assert.Equal(t, models.Started, brews[0].State)
	assert.Equal(t, tasksOf(was, models.TaskBrew)[1].ID, brews[1].ID)
	for _, task := range is.Tasks[:2] {
		assert.Equal(t, first.ID, task.Batch.ID, "the tasks of a batch share the id of its brew task")
	}
	assert.True(t, tasksOf(is, models.TaskChill)[0].At.Equal(sheetTime(9, 55)), "its next step counts from its start")
}

func TestASkippedBatchIsNotMistakenForItsReplacement(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	was := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200)))
	for i := range was.Tasks {
		was.Tasks[i].State = models.Skipped
	}
	same := oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 0), 5200)), was)
	assert.Equal(t, models.Skipped, tasksOf(same, models.TaskBrew)[0].State, "publishing again keeps it")
	later := tasksOf(oneSheet(t, r, sheetPlan(flashAt(sheetTime(9, 30), 5200)), was), models.TaskBrew)
	require.Len(t, later, 2)
	assert.Equal(t, models.Skipped, later[0].State)
	assert.Equal(t, models.Due, later[1].State)
	assert.NotEqual(t, later[0].ID, later[1].ID)
}

func TestMovedLoadsAreListedAsChanges(t *testing.T) {
	t.Parallel()
	load := func(hours ...int) models.Plan {
		p := sheetPlan()
		q := models.IceQuota{Date: sheetDate, DayPart: "morning", Maker: "forms", Due: sheetTime(18, 0)}
		for _, h := range hours {
			q.Loads = append(q.Loads, models.IceLoad{FillAt: sheetTime(h, 0), TakeAt: sheetTime(h+4, 0), G: 2500})
		}
		p.Ice.Quotas = []models.IceQuota{q}
		return p
	}
	r := sheetRequest()
	was := oneSheet(t, r, load(7, 12))
	is := oneSheet(t, r, load(7, 11, 15), was)
	assert.Equal(t, []string{"forms on Sat: load filled 12:00 → 11:00; one more load, filled 15:00"}, is.Changes)
	assert.Equal(t, tasksOf(was, models.TaskIceFill)[0].ID, tasksOf(is, models.TaskIceFill)[0].ID)
	assert.Equal(t, tasksOf(was, models.TaskIceTake)[1].ID, tasksOf(is, models.TaskIceTake)[0].ID, "at 16:00, then at 19:00")
	require.Len(t, tasksOf(is, models.TaskIceRefill), 2, "emptied and filled at once")
	fewer := oneSheet(t, r, load(7, 15), is)
	assert.Equal(t, []string{"forms on Sat: one load fewer, filled 11:00"}, fewer.Changes)
	assert.Empty(t, tasksOf(fewer, models.TaskIceRefill))
	assert.Equal(t, tasksOf(is, models.TaskIceFill)[0].ID, tasksOf(fewer, models.TaskIceFill)[0].ID)
}

func TestPublishingTheSamePlanAgainListsNoChanges(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	p := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(9, 30), 2000))
	was := oneSheet(t, r, p)
	is := oneSheet(t, r, p, was)
	assert.Equal(t, was, is)
}

func TestEachDayOfAWeekendHasASheet(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	p := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(33, 0), 5200))
	p.Days = 2
	sheets := PrepSheets(r, p, nil, sheetTime(-3, 0))
	require.Len(t, sheets, 2)
	assert.Equal(t, models.Date("2026-07-12"), sheets[1].Date)
	a, b := tasksOf(sheets[0], models.TaskBrew), tasksOf(sheets[1], models.TaskBrew)
	require.Len(t, a, 1)
	require.Len(t, b, 1)
	assert.NotEqual(t, a[0].ID, b[0].ID)
	r.Site.Code = "station"
	assert.NotEqual(t, a[0].ID, tasksOf(PrepSheets(r, p, nil, sheetTime(-3, 0))[0], models.TaskBrew)[0].ID, "sites have ids of their own")
}

func ids(s models.PrepSheet) []string {
	var out []string
	for _, t := range s.Tasks {
		out = append(out, t.Kind+" "+t.ID)
	}
	return out
}

func plainAll(list []string) []string {
	out := []string{}
	for _, s := range list {
		out = append(out, plain(s))
	}
	return out
}

func TestSheetsHoldAllOfAComputedPlan(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json")
	p, err := planner.ComputeWithoutFixes(t.Context(), r)
	require.NoError(t, err)
	require.NotEmpty(t, p.Batches)
	count := map[string]int{}
	seen := map[string]bool{}
	sheets := PrepSheets(r, p, nil, r.Now)
	for _, s := range sheets {
		for _, task := range s.Tasks {
			count[task.Kind]++
			assert.False(t, seen[task.ID], "an id twice: %s", task.Say)
			seen[task.ID] = true
			assert.NotEmpty(t, task.Say)
			assert.NotEmpty(t, task.Why)
			assert.NotContains(t, task.Say+task.Why, "NaN")
		}
	}
	loads := 0
	for _, q := range p.Ice.Quotas {
		loads += len(q.Loads)
	}
	assert.Equal(t, len(p.Batches), count[models.TaskBrew])
	assert.Equal(t, loads > 0, count[models.TaskIceFill]+count[models.TaskIceRefill] > 0)
	assert.Equal(t, loads > 0, count[models.TaskIceTake]+count[models.TaskIceRefill] > 0)
	assert.Equal(t, len(p.Ice.Checks), count[models.TaskIceCheck])
	again := PrepSheets(r, p, sheets, r.Now)
	assert.Equal(t, sheets, again, "the same plan published again")
}

// requestFrom reads a request that the project ships.
func requestFrom(t *testing.T, file string) models.PlanRequest {
	t.Helper()
	data, err := os.ReadFile("../../testdata/requests/" + file)
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(data, &r))
	require.NoError(t, r.Validate())
	return r
}
