package setupfile_test

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/api/setupfile"
	"hotday/deploy/demo"
	"hotday/models"
)

func shop(t *testing.T) models.Setup {
	t.Helper()
	b, err := os.ReadFile("../../deploy/demo/setup.json")
	require.NoError(t, err)
	var s models.Setup
	require.NoError(t, models.DecodeStrict(b, &s))
	return s
}

func book(t *testing.T, s models.Setup, change func(*excelize.File)) []byte {
	t.Helper()
	data, err := setupfile.Write(s)
	require.NoError(t, err)
	return edited(t, data, change)
}

// edited is a workbook, changed.
func edited(t *testing.T, data []byte, change func(*excelize.File)) []byte {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	require.NoError(t, err)
	change(f)
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	require.NoError(t, f.Close())
	return out.Bytes()
}

func TestSetupRoundTrip(t *testing.T) {
	t.Parallel()
	s := shop(t)
	level := 92.5
	s.ServiceLevelPct = &level
	s.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "l", Clock: "12h", Dates: "month_day"}
	s.Ice.Makers[0].Curve = []models.CurvePoint{{AirC: 21, WaterC: 10, KgPerDay: 30}, {AirC: 32, WaterC: 21, KgPerDay: 22.5}}
	data, err := setupfile.Write(s)
	require.NoError(t, err)
	got, cellErrors, err := setupfile.Read(data)
	require.NoError(t, err)
	require.Empty(t, cellErrors)
	assert.JSONEq(t, asJSON(t, s), asJSON(t, got))
}

func TestErrorsNameSheetAndCell(t *testing.T) {
	t.Parallel()
	set := func(sheet, cell string, v any) func(*excelize.File) {
		return func(f *excelize.File) { require.NoError(t, f.SetCellValue(sheet, cell, v)) }
	}
	for name, c := range map[string]struct {
		change      func(*excelize.File)
		sheet, cell string
		accepted    string
	}{
		"no number":           {set("beverages", "E2", "fifteen"), "beverages", "E2", "a number"},
		"a coffee not there":  {set("beverages", "D2", "Moon"), "beverages", "D2", "one of Terrace, Lantern, Shots"},
		"below the range":     {set("brewers", "D2", -1), "brewers", "D2", ""},
		"unknown column":      {set("drinks", "Z1", "colour"), "drinks", "Z1", ""},
		"a lot of no coffee":  {set("coffees.lots", "A2", "Moon"), "coffees.lots", "A2", ""},
		"an unknown field":    {set("shop", "A3", "site.colour"), "shop", "A3", ""},
		"a method not there":  {set("beverages", "C2", "boiled"), "beverages", "C2", ""},
		"sizes in words":      {set("brewers", "I2", "half, full"), "brewers", "I2", "a number, or several with commas between"},
		"neither yes nor no":  {set("beverages", "K2", "maybe"), "beverages", "K2", "yes or no"},
		"a needed cell empty": {set("beverages", "E2", nil), "beverages", "E2", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, cellErrors, err := setupfile.Read(book(t, shop(t), c.change))
			require.NoError(t, err)
			require.NotEmpty(t, cellErrors)
			assert.Equal(t, c.sheet+" "+c.cell, cellErrors[0].Sheet+" "+cellErrors[0].Cell, cellErrors[0].Detail)
			if c.accepted != "" {
				assert.Contains(t, cellErrors[0].Accepted, c.accepted)
			}
		})
	}
}

func TestTimeAndDateCells(t *testing.T) {
	t.Parallel()
	data := book(t, shop(t), func(f *excelize.File) {
		require.NoError(t, f.SetCellValue("site.day_parts", "B2", 7.5/24)) // 07:30
		require.NoError(t, f.SetCellValue("coffees.lots", "C2", 46203))    // 2026-06-30
		_, err := f.NewSheet("my own notes")
		require.NoError(t, err)
	})
	s, cellErrors, err := setupfile.Read(data)
	require.NoError(t, err)
	require.Empty(t, cellErrors)
	assert.EqualValues(t, "07:30", s.Site.DayParts[0].From)
	assert.Equal(t, models.Date("2026-06-30"), s.Coffees[0].Lots[0].RoastedOn)
}

func TestOtherFilesAreMalformed(t *testing.T) {
	t.Parallel()
	_, _, err := setupfile.Read([]byte("no workbook"))
	assert.Equal(t, models.CodeMalformed, models.CodeOf(err))
	f := excelize.NewFile()
	var out bytes.Buffer
	require.NoError(t, f.Write(&out))
	_, _, err = setupfile.Read(out.Bytes())
	assert.Equal(t, models.CodeMalformed, models.CodeOf(err))
	assert.ErrorContains(t, err, "coffees.lots")
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	require.NoError(t, err)
	return string(b)
}

// requestBook is the workbook of the example weekend, changed.
func requestBook(t *testing.T, change func(*excelize.File)) []byte {
	t.Helper()
	data, err := setupfile.WriteRequest(example())
	require.NoError(t, err)
	return edited(t, data, change)
}

// example is a weekend in a zone whose clocks change on its second day.
func example() models.PlanRequest { return demo.Example("2026-03-28") }

func TestRequestRoundTrip(t *testing.T) {
	t.Parallel()
	for name, r := range map[string]models.PlanRequest{"example": example(), "every field": whole(t)} {
		data, err := setupfile.WriteRequest(r)
		require.NoError(t, err)
		got, cellErrors, err := setupfile.ReadRequest(data)
		require.NoError(t, err)
		require.Empty(t, cellErrors, name)
		assert.JSONEq(t, normal(t, r), normal(t, got), name)
	}
}

// whole is a request with rows in many lists.
func whole(t *testing.T) models.PlanRequest {
	r := models.PlanRequest{Setup: shop(t), From: "2026-07-11", Days: 1, Now: time.Date(2026, 7, 10, 16, 0, 0, 0, time.UTC), Seed: 3}
	d := r.Drinks[0].Code
	r.Demand = []models.Demand{{Date: r.From, DayPart: r.Site.DayParts[0].Code, Drink: d, Expected: 10, P10: new(6.0), P90: new(15.0)}}
	r.Events = []models.Event{{From: r.Now, To: r.Now.Add(time.Hour), Name: "fair", Factor: 1.3}}
	r.Outages = []models.Outage{{Kind: "brewer", Code: r.Brewers[0].Code, From: r.Now, To: r.Now.Add(time.Hour)}}
	r.Weather = []models.WeatherHour{{At: r.Now, TempC: 30, HumidityPct: new(40.0)}}
	r.Stock = []models.Stock{{Beverage: r.Beverages[0].Code, G: 1500, MadeAt: r.Now}}
	return r
}

// normal is a request as JSON that was decoded once, so that missing and empty lists and defaults are the same.
func normal(t *testing.T, r models.PlanRequest) string {
	t.Helper()
	b, err := json.Marshal(r)
	require.NoError(t, err)
	var again models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &again))
	again.Now = again.Now.UTC()
	if len(again.Supplies) == 0 {
		again.Supplies = nil
	}
	for i := range again.Weather {
		again.Weather[i].At = again.Weather[i].At.UTC()
	}
	for i := range again.Stock {
		again.Stock[i].MadeAt = again.Stock[i].MadeAt.UTC()
	}
	for i := range again.Events {
		again.Events[i].From, again.Events[i].To = again.Events[i].From.UTC(), again.Events[i].To.UTC()
	}
	for i := range again.Outages {
		again.Outages[i].From, again.Outages[i].To = again.Outages[i].From.UTC(), again.Outages[i].To.UTC()
	}
	b, err = json.Marshal(again)
	require.NoError(t, err)
	return string(b)
}

func TestRequestErrorsNameSheetAndCell(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		sheet, cell string
		value       any
		accepted    string
	}{
		"not a number":   {"Demand", "D3", "many", "a number"},
		"unknown drink":  {"Demand", "C4", "tea", "iced-house"},
		"not a time":     {"Weather", "A2", "noon", "a date and a time such as"},
		"unknown column": {"Stock", "B1", "kilos", "one of beverage, g, made_at"},
		"too hot":        {"Weather", "B3", 90, "60 or less"},
	} {
		data := requestBook(t, func(f *excelize.File) { require.NoError(t, f.SetCellValue(c.sheet, c.cell, c.value)) })
		_, errs, err := setupfile.ReadRequest(data)
		require.NoError(t, err, name)
		require.NotEmpty(t, errs, name)
		assert.Equal(t, c.sheet, errs[0].Sheet, name)
		assert.Equal(t, c.cell, errs[0].Cell, name)
		assert.Contains(t, errs[0].Accepted, c.accepted, name)
	}
}

func TestMissingSheetIsNamed(t *testing.T) {
	t.Parallel()
	data := requestBook(t, func(f *excelize.File) { require.NoError(t, f.DeleteSheet("Demand")) })
	_, errs, err := setupfile.ReadRequest(data)
	require.NoError(t, err)
	require.Len(t, errs, 1)
	assert.Equal(t, "demand", errs[0].Sheet)
}

// Headings have units and notes; times are by the shop's clock, as text or as date cells; without now it is the evening before.
func TestRequestWorkbookIsMadeToBeFilledIn(t *testing.T) {
	t.Parallel()
	data := requestBook(t, func(f *excelize.File) {
		heading, err := f.GetCellValue("Demand", "D1")
		require.NoError(t, err)
		assert.Equal(t, "expected (drinks)", heading)
		notes, err := f.GetComments("Weather")
		require.NoError(t, err)
		require.Len(t, notes, 2)
		assert.Contains(t, notes[0].Text, "by the shop's clock")
		require.NoError(t, f.SetCellValue("Stock", "C2", time.Date(2026, 3, 27, 10, 30, 0, 0, time.UTC)))
		rows, err := f.GetRows("shop")
		require.NoError(t, err)
		for i, row := range rows {
			if row[0] == "now" {
				require.NoError(t, f.RemoveRow("shop", i+1))
			}
		}
	})
	r, errs, err := setupfile.ReadRequest(data)
	require.NoError(t, err)
	require.Empty(t, errs)
	assert.Equal(t, "2026-03-27T18:00:00+01:00", r.Now.Format(time.RFC3339))
	assert.Equal(t, "2026-03-27T10:30:00+01:00", r.Stock[0].MadeAt.Format(time.RFC3339))
}
