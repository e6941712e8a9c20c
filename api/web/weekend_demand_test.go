package web

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner/facts"
)

// saturdayState is a Saturday with a drink that has a forecast in the morning, and the manager's number besides at midday.
func saturdayState(t *testing.T) weekendState {
	r := request(t)
	d, drink := r.From, r.Drinks[0].Code
	levels := []float64{0.1, 0.5, 0.9}
	expected, low, high, air := 60.0, 45.0, 80.0, 29.0
	r.Demand = []models.Demand{{Date: d, DayPart: "midday", Drink: drink, Expected: expected, P10: &low, P90: &high}}
	r.Forecast = []models.Forecast{
		{Date: d, DayPart: "morning", Drink: drink, Mean: 21, Levels: levels, Quantiles: []float64{12, 20, 31}, Basis: "8 Saturdays; +38 % for the temperature"},
		{Date: d, DayPart: "midday", Drink: drink, Mean: 35, Levels: levels, Quantiles: []float64{20, 34, 51}, Basis: "8 Saturdays"}}
	plan := models.Plan{From: d, Days: 1, Demand: []models.DemandRange{
		{Date: d, DayPart: "morning", Drink: drink, Mean: 21, P10: 12, P50: 20, P90: 31, Prepare: 27.2, Basis: "8 Saturdays; +38 % for the temperature"},
		{Date: d, DayPart: "midday", Drink: drink, Mean: 62, P10: 45, P50: 60, P90: 80, Prepare: 71, Basis: "stated with its range"}}}
	return weekendState{hasPlan: true, plan: plan, request: r,
		expected: []models.ExpectedDemand{{Date: d, DayPart: "midday", Drink: drink, Expected: &expected, P10: &low, P90: &high, Note: "street fair"}},
		past: map[facts.ComparedRow][]facts.ComparableDay{{Weekday: d.Weekday(), DayPart: "midday", Drink: drink}: {
			{Date: d.AddDays(-7), Count: 33, TempC: &air}, {Date: d.AddDays(-14), Count: 90, Events: []string{"Regatta"}}}}}
}

func TestManualNumberAndForecastAreKeptApart(t *testing.T) {
	t.Parallel()
	days := demandDays(saturdayState(t))
	require.Len(t, days, 1)
	cells := days[0].Rows[0].Cells
	morning, midday := cells[0], cells[1]

	assert.Equal(t, "20", morning.Value)
	assert.Equal(t, "20, 12–31", morning.Forecast)
	assert.Empty(t, morning.ManualText)
	assert.Contains(t, morning.Basis, "+38 % for the temperature")
	assert.Nil(t, morning.strip.Manual)

	assert.True(t, midday.Manual)
	assert.Equal(t, "60", midday.Value)
	assert.Equal(t, "60, 45–80 (street fair)", midday.ManualText)
	assert.Equal(t, "34, 20–51", midday.Forecast, "the forecast's own range")
	assert.InDelta(t, 51, midday.strip.P90, 1e-9)
	assert.Equal(t, "4 Jul: 33 at 29\u202f°C; 27 Jun: 90 (Regatta)", midday.Days)
	assert.Contains(t, midday.Basis, "stated with its range")
	assert.Equal(t, morning.strip.Max, midday.strip.Max, "the strips of a drink have one scale")
	assert.InDelta(t, 90, midday.strip.Max, 1e-9)
	assert.Contains(t, string(midday.Strip), `class="word-mark"`)
	assert.NotContains(t, string(morning.Strip), "word-mark")
}

func TestManualNumberAfterPlanningKeepsTheForecast(t *testing.T) {
	t.Parallel()
	st := saturdayState(t)
	st.request.Demand, st.request.Forecast = nil, st.request.Forecast[:1]
	st.plan.Demand[1] = models.DemandRange{Date: st.plan.From, DayPart: "midday", Drink: st.request.Drinks[0].Code, Mean: 35, P10: 20, P50: 34, P90: 51, Basis: "8 Saturdays"}
	midday := demandDays(st)[0].Rows[0].Cells[1]
	assert.Equal(t, "60", midday.Value)
	assert.Equal(t, "34, 20–51", midday.Forecast)
}

func TestPastDaysAreInTheTableForScreenReaders(t *testing.T) {
	t.Parallel()
	st := saturdayState(t)
	var page bytes.Buffer
	require.NoError(t, templates["en"].ExecuteTemplate(&page, "weekend", weekendView{HasPlan: true, Demand: demandDays(st)}))
	html := page.String()
	assert.Contains(t, html, "4 Jul: 33 at 29\u202f°C; 27 Jun: 90 (Regatta)")
	assert.Contains(t, html, "Past Saturdays, newest first")
	assert.Contains(t, html, `href="#f-e-2"`)
	assert.Equal(t, 1, strings.Count(html, `id="f-e-2"`), "the strip links to its row")
	assert.NotContains(t, html, " style=")
}

func TestOpenWarningsLeaveOutThePlansAndNotes(t *testing.T) {
	t.Parallel()
	day := at(t, "14:00")
	open := func(kind, grade string, hour string, acked bool) models.OpenWarning {
		w := models.OpenWarning{ID: kind + hour, Warning: models.Warning{Kind: kind, Grade: grade, At: at(t, hour), Cause: "because"}}
		if acked {
			w.AckedAt, w.AckedBy = &day, "bar"
		}
		return w
	}
	plan := []models.Warning{{Kind: models.WarnIceShort, At: at(t, "15:00")}}
	got := openWarningViews([]models.OpenWarning{open(models.WarnIceShort, models.GradeActToday, "16:00", false), open(models.WarnSalesSilent, models.GradeActToday, "12:00", true),
		open(models.WarnStockCountOld, models.GradeNote, "12:00", false), open(models.WarnIceShort, models.GradeActNow, "06:00", false)}, plan, voiceOf(models.Site{Timezone: "Europe/Berlin"}))
	require.Len(t, got, 2)
	assert.Equal(t, models.WarnIceShort+"06:00", got[0].ID, "the most severe first; a different time is a different warning")
	assert.Equal(t, models.WarnSalesSilent+"12:00", got[1].ID)
	assert.Equal(t, "bar, Saturday 14:00", got[1].SeenBy)
}
