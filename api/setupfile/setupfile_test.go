package setupfile_test

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/api/setupfile"
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
