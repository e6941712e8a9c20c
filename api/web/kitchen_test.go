package web

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func at(t *testing.T, clock string) time.Time {
	t.Helper()
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	v, err := time.ParseInLocation("2006-01-02 15:04", "2026-07-11 "+clock, loc)
	require.NoError(t, err)
	return v
}

// wall is the kitchen screen at a time, with the tasks of one batch.
func wall(t *testing.T, clock string, change func(tasks []models.Task)) kitchenView {
	t.Helper()
	var v kitchenView
	v.fill(t, clock, change)
	return v
}

func (v *kitchenView) fill(t *testing.T, clock string, change func(tasks []models.Task)) {
	t.Helper()
	cool := 35.0
	batch := models.BatchTask{ID: "b", Brewer: "left", Beverage: "flash", DoseG: 400, BrewWaterG: 4670, IceG: 1170, BeverageG: 5000, CoolToBeforeIceC: &cool,
		BathIceG: 1500, FinalTempC: 7, Start: at(t, "09:00"), Ready: at(t, "09:45"), UseBy: at(t, "17:45")}
	tasks := []models.Task{
		{ID: "brew", At: at(t, "09:00"), Station: "left", Kind: models.TaskBrew, Say: "Ridge flash: pour it.", State: models.Due, Beverage: "flash", Batch: &batch, Caution: "Hot brew scalds."},
		{ID: "pull", At: at(t, "09:00"), Station: "zz beans", Kind: models.TaskPull, Say: "Take 400 g of ridge.", State: models.Due, Pulls: []models.BeanPull{{G: 400, Coffee: "ridge"}}},
		{ID: "chill", At: at(t, "09:30"), Station: "left", Kind: models.TaskChill, Say: "Ridge flash: cool it.", State: models.Due, Beverage: "flash", Batch: &batch},
		{ID: "draw", At: at(t, "12:00"), Station: "water", Kind: models.TaskWaterDraw, Say: "Draw 18.5 L of water.", State: models.Due, Draw: &models.WaterDraw{DrawL: 18.5}},
	}
	if change != nil {
		change(tasks)
	}
	v.Now, v.voice = at(t, clock), voiceOf(request(t).Site)
	v.selectTasks([]models.PrepSheet{{Date: "2026-07-11", Tasks: tasks}}, request(t).Setup)
}

func taskByID(v kitchenView, id string) kitchenTask {
	for _, s := range v.Tasks {
		if s.ID == id {
			return s
		}
	}
	return kitchenTask{}
}

func lines(s kitchenTask) string {
	var out []string
	for _, l := range s.Lines {
		out = append(out, string(l))
	}
	return strings.Join(out, "|")
}

func TestTaskTextEmphasisesNumbers(t *testing.T) {
	t.Parallel()
	v := wall(t, "09:00", nil)
	brew, chill := taskByID(v, "brew"), taskByID(v, "chill")
	assert.Equal(t, "Pour <b>4\u202f670\u202fg</b> water|over <b>400\u202fg</b> coffee in <i>left</i>", lines(brew))
	assert.Equal(t, "Cool to <b>35\u202f°C</b> in an ice bath with <b>1.5\u202fkg</b> <span class=\"whole\">ice-bath</span> ice (not for drinks)|Stir in <b>1\u202f170\u202fg</b> ice, slowly|Reach <b>7\u202f°C</b> by <b>09:45</b>", lines(chill))
	assert.Equal(t, "Ridge flash", brew.Title)
	assert.Equal(t, "Step 1 of 2", brew.Step)
	assert.Equal(t, "09:30 Ice bath (add 1.5\u202fkg ice-bath ice) to 35\u202f°C, stir in 1\u202f170\u202fg ice", brew.Then)
	assert.Equal(t, "Hot brew scalds. Your local food safety rules come first.", brew.Caution)
	assert.InDelta(t, 5000, chill.Grams, 0, "the last step asks for the weight")
	assert.Zero(t, brew.Grams)
}

func TestCurrentTaskIsTheFirstDue(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "pull", wall(t, "08:50", nil).Current, "preparations come before the batch")
	assert.Equal(t, "brew", wall(t, "08:50", func(ts []models.Task) { ts[1].State = models.Made }).Current)
	assert.Equal(t, "chill", wall(t, "09:25", func(ts []models.Task) { ts[0].State, ts[1].State = models.Made, models.Skipped }).Current)
}

func TestLongOverdueTasksComeLast(t *testing.T) {
	t.Parallel()
	v := wall(t, "12:00", nil)
	assert.Equal(t, "draw", v.Current)
	assert.Equal(t, "chill", v.Tasks[len(v.Tasks)-1].ID)
}

func TestNextTaskIsShownIfNoneIsDue(t *testing.T) {
	t.Parallel()
	v := wall(t, "07:00", nil)
	assert.Empty(t, v.Current)
	assert.Equal(t, "Next: 09:00, get out 400\u202fg ridge", v.Idle)
	done := wall(t, "13:00", func(ts []models.Task) {
		for i := range ts {
			ts[i].State = models.Made
		}
	})
	assert.Equal(t, "Nothing left to do.", done.Idle)
}

func TestScreenWithStationsShowsTheirTasks(t *testing.T) {
	t.Parallel()
	v := kitchenView{Mine: []string{"water"}}
	v.fill(t, "08:50", nil)
	assert.Empty(t, v.Current, "tasks of other stations are not current")
	assert.Equal(t, "Next: 12:00, fill 18.5\u202fL brewing water", v.Idle)
	assert.Equal(t, []string{"left", "water", "zz beans"}, v.Stations, "other stations can be selected")
	v = kitchenView{Mine: []string{"left"}}
	v.fill(t, "08:50", nil)
	assert.Equal(t, "brew", v.Current)
}

func TestLastMarkedSkipsUndoneMarks(t *testing.T) {
	t.Parallel()
	v := wall(t, "09:40", func(ts []models.Task) { ts[0].State, ts[1].State = models.Made, models.Made })
	marks := []models.TaskMark{{Task: "pull", State: models.Made}, {Task: "brew", State: models.Made}, {Task: "chill", State: models.Made}, {Task: "chill", State: models.Due}}
	assert.Equal(t, "brew", lastMarked(v.Tasks, marks))
}

func TestTaskTextIsEscaped(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "&lt;script&gt;alert(1)&lt;/script&gt;", string(emphasiseNumbers("<script>alert(1)</script>")))
	assert.Equal(t, "<b>5&lt;i&gt;</b>", string(emphasiseNumbers("5<i>")))
}

func TestPrintedPrepSheetIsInOrderOfTime(t *testing.T) {
	t.Parallel()
	sheet := models.PrepSheet{Site: "lido", Date: "2026-07-11", Revision: 4, PublishedAt: at(t, "06:00"), Changes: []string{"second batch 13:15 → 12:45"}, Cautions: []string{"Hot brew scalds."},
		Tasks: []models.Task{
			{ID: "a", At: at(t, "08:00"), Station: "left", Kind: models.TaskBrew, Say: "Pour 4670 g.", State: models.Made, Caution: "Steam."},
			{ID: "b", At: at(t, "08:10"), Station: "water", Kind: models.TaskWaterDraw, Say: "Draw 12 L.", State: models.Due},
			{ID: "c", At: at(t, "09:00"), Station: "left", Kind: models.TaskBrew, Say: "Pour 3000 g.", State: models.Due, Caution: "Steam."},
		}}
	var b bytes.Buffer
	require.NoError(t, WritePrepSheet(&b, request(t).Setup, sheet, models.Plan{}, SheetReader{}))
	page := b.String()
	assert.Less(t, strings.Index(page, "Pour <b>4670</b>"), strings.Index(page, "Draw <b>12</b>"))
	assert.Less(t, strings.Index(page, "Draw <b>12</b>"), strings.Index(page, "Pour <b>3000</b>"))
	assert.Equal(t, 1, strings.Count(page, "Steam."), "a caution is shown once")
	for _, words := range []string{"Saturday 11 July 2026", "Plan 4, published", "second batch 13:15 → 12:45", "Hot brew scalds.", `<time datetime="2026-07-11T08:00:00&#43;02:00">08:00</time>`, "local food safety rules"} {
		assert.Contains(t, page, words)
	}
}

// ofALine gives the tasks of wall the times and the one mark of a line.
func ofALine(ts []models.Task) {
	for i := range ts {
		ts[i].Until = ts[i].At.Add(5 * time.Minute)
	}
	ts[0].Mark, ts[2].PartOf = true, "brew"
}

func TestUnmarkedTasksPassAndTheLastStepAsksForTheMark(t *testing.T) {
	t.Parallel()
	v := wall(t, "09:00", ofALine)
	brew, chill := taskByID(v, "brew"), taskByID(v, "chill")
	assert.Equal(t, "Started", brew.Done)
	assert.True(t, brew.Step1)
	assert.Equal(t, "brew", chill.Line, "the mark is the line's")
	assert.Equal(t, "Made", chill.Done)
	assert.True(t, chill.Until.IsZero(), "it waits for the mark")
	assert.InDelta(t, 5000, chill.Grams, 0)
	assert.Equal(t, "pull", v.Current)
	assert.Equal(t, "chill", wall(t, "09:20", ofALine).Current, "nobody marked beans and brewing: they count as done")
	started := wall(t, "09:02", func(ts []models.Task) {
		ofALine(ts)
		ts[0].State, ts[1].State = models.Started, models.Made
	})
	assert.NotEqual(t, "brew", started.Current)
	assert.Equal(t, "chill", wall(t, "10:30", ofALine).Current, "still unmarked")
}

func TestMarkedLinesCanBeCorrected(t *testing.T) {
	t.Parallel()
	var v kitchenView
	v.fill(t, "10:00", ofALine)
	v.MassPer = 1000
	tasks := []models.Task{{ID: "brew", At: at(t, "09:00"), Kind: models.TaskBrew, Station: "left", Beverage: "flash", Mark: true, Batch: &models.BatchTask{BeverageG: 5000}}}
	sheets := []models.PrepSheet{{Date: "2026-07-11", Tasks: tasks}}
	marks := []models.TaskMark{{Task: "brew", State: models.Made, At: at(t, "09:47"), BeverageG: new(4870.0), TDSPct: new(1.4)}}
	v.listMarked(sheets, marks, request(t).Setup)
	require.Len(t, v.Marked, 1)
	m := v.Marked[0]
	assert.Equal(t, []string{"09:47", "4.87", "4870", "1.4"}, []string{m.Clock, m.Mass, m.G, m.TDS})
	assert.Equal(t, "2026-07-11", v.Dates)
	v.Marked = nil
	v.listMarked(sheets, append(marks, models.TaskMark{Task: "brew", State: models.Due}), request(t).Setup)
	assert.Empty(t, v.Marked)
}
