package tables_test

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/sheet"
	"hotday/planner/tables"
)

func planned(t *testing.T, change func(*models.PlanRequest)) (models.PlanRequest, models.Plan, []models.PrepSheet) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &r))
	change(&r)
	p, err := planner.Compute(t.Context(), r)
	require.NoError(t, err)
	return r, p, sheet.PrepSheets(r, p, nil, p.ComputedAt)
}

func TestPlanWorkbookHasEveryTaskAndBatch(t *testing.T) {
	t.Parallel()
	r, p, sheets := planned(t, func(*models.PlanRequest) {})
	data, err := tables.XLSX(tables.Plan(r, p, sheets))
	require.NoError(t, err)
	again, err := tables.XLSX(tables.Plan(r, p, sheets))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(data, again), "the same plan gives the same file")
	f, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	rows := func(sheet string) [][]string {
		out, err := f.GetRows(sheet)
		require.NoError(t, err)
		return out
	}
	day := rows("Saturday 11 July")
	lines := sheets[0].Lines()
	require.Len(t, day, len(lines)+1)
	for i, task := range lines {
		assert.Equal(t, task.Say, day[i+1][2])
		if task.Caution != "" {
			assert.Equal(t, task.Caution, day[i+1][5], "the caution is where the work is")
		}
		assert.Equal(t, task.At.In(r.Site.Location()).Format("2006-01-02 15:04"), day[i+1][0])
	}
	assert.Len(t, rows("Batches"), len(p.Batches)+1)
	assert.Len(t, rows("Ice to make"), len(p.Ice.Quotas)+1)
	assert.Len(t, rows("Ice bin"), len(p.Ice.Levels)+1)
	assert.Len(t, rows("Water"), len(p.Water)+1)
	assert.Len(t, rows("Beans"), len(p.Pulls)+1)
}

func TestTablesAreInTheSitesUnits(t *testing.T) {
	t.Parallel()
	r, p, sheets := planned(t, func(r *models.PlanRequest) {
		r.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	})
	for _, x := range tables.Plan(r, p, sheets) {
		for _, h := range x.Head {
			assert.NotRegexp(t, `\((g|L|°C)\)`, h, x.Name)
		}
		if x.Code == "batches" {
			assert.InDelta(t, p.Batches[0].DoseG/28.349523125, x.Rows[0][5], 0.06)
			assert.InDelta(t, p.Batches[0].FinalTempC*1.8+32, x.Rows[0][10], 0.06)
		}
	}
}

func TestCSVQuotesAndNeverHoldsFormulas(t *testing.T) {
	t.Parallel()
	text, err := tables.CSV(tables.Table{Head: []string{"a", "b"}, Rows: [][]any{{"=1+1", nil}, {"say \"hi\", twice", 2.5}, {"-", "+49"}}})
	require.NoError(t, err)
	assert.Equal(t, "a,b\r\n'=1+1,\r\n\"say \"\"hi\"\", twice\",2.5\r\n'-,'+49\r\n", string(text))
}
