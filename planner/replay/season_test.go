package replay

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

var update = flag.Bool("update", false, "rewrite the golden file")

// shopSeason is the demo's shop with an invented season: servings depend on the weekday, the temperature and chance.
func shopSeason(t *testing.T, days int) Season {
	t.Helper()
	doc, err := os.ReadFile("../../deploy/demo/setup.json")
	require.NoError(t, err)
	var s Season
	require.NoError(t, models.DecodeStrict(doc, &s.Setup))
	s.Drinks = s.Drinks[:7] // of three beverages
	r := rand.New(rand.NewPCG(7, 7))
	first := models.Date("2026-05-04")
	for i := range days {
		c := 24 + 8*r.Float64()
		d := Day{Date: first.AddDays(i), Weather: Weather{TempC: &c}}
		for _, p := range s.Site.DayParts {
			for _, x := range s.Drinks {
				m := 3.5 * (1 + 0.3*float64(i%7)/6) * (1 + 0.04*(c-24)) * (0.7 + 0.6*r.Float64())
				d.Counts = append(d.Counts, Count{DayPart: p.Code, Drink: x.Code, Count: float64(int(m + r.Float64()))})
			}
		}
		s.Days = append(s.Days, d)
	}
	return s
}

func TestForesightCostsLeast(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	s := shopSeason(t, 42)
	r := run(t, s, Options{})
	batch := 0.0 // the dearest
	for _, w := range s.Brewers {
		batch = max(batch, w.BatchCost)
	}
	all := r.Spans()[len(r.Spans())-1]
	require.Equal(t, 7, all.Figures[Plan].OpenDays)
	for _, m := range []Method{Plan, Par} {
		require.Less(t, all.Figures[Foresight].Cost(), all.Figures[m].Cost(), m)
	}
	for i := range r.Days {
		d := &r.Days[i]
		// On a single day the kitchens differ by their stock, so that one may need a batch or two more.
		for _, m := range []Method{Plan, Par} {
			require.Less(t, d.Figures[Foresight].Cost(), d.Figures[m].Cost()+2*batch, "%s %s", d.Date, m)
			require.InDelta(t, d.Figures[Foresight].Coffee, d.Figures[m].Coffee, 1e-6, "the same demand")
			require.InDelta(t, d.Figures[m].Total()-d.Figures[m].Coffee, d.Figures[m].Cost(), 1e-6)
		}
	}
}

func TestReplanningHelpsWhenTheForecastIsWrong(t *testing.T) {
	t.Parallel()
	// The day is quieter than any before it, so the remaining batches are cancelled.
	s := shopSeason(t, 37)
	for k := range s.Days[35].Counts {
		s.Days[35].Counts[k].Count = math.Round(s.Days[35].Counts[k].Count / 4)
	}
	r := run(t, s, Options{Budget: 60_000, Days: 1, Replan: true})
	plan, replanned := r.Days[0].Figures[Plan], r.Days[0].Figures[Replanned]
	require.Less(t, replanned.Batches, plan.Batches)
	require.InDelta(t, plan.Demand, replanned.Demand, 1e-9)
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, &r))
	require.Contains(t, b.String(), "Replanned, it cost")
	b.Reset()
	require.NoError(t, WriteSVG(&b, &r))
	require.Contains(t, b.String(), "replanned, dotted")
}

func TestMethodsUseNoFutureData(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	const from, days, shuffled = 35, 4, 37 // the days from shuffled on change
	s := shopSeason(t, from+days)
	before := run(t, s, Options{Budget: 60_000, Replan: true})
	changed := shopSeason(t, from+days)
	future := changed.Days[shuffled:]
	r := rand.New(rand.NewPCG(3, 3))
	counts := make([][]Count, len(future))
	for i := range future {
		counts[i] = slices.Clone(future[i].Counts)
		for k := range counts[i] {
			counts[i][k].Count *= 5 * r.Float64()
		}
	}
	for i := range future {
		future[i].Counts = counts[len(counts)-1-i]
		if i > 0 { // the weather of the first is part of the forecast of the evening before
			*future[i].Weather.TempC += 9
		}
	}
	after := run(t, changed, Options{Budget: 60_000, Replan: true})
	for i := range shuffled - from {
		for _, m := range []Method{Plan, Replanned, Par} {
			require.Equal(t, before.Days[i].Figures[m], after.Days[i].Figures[m], "%s %s", before.Days[i].Date, m)
		}
		require.Equal(t, before.Days[i].Inside, after.Days[i].Inside)
	}
	require.NotEqual(t, before.Days[shuffled-from].Figures[Plan], after.Days[shuffled-from].Figures[Plan])
}

func TestAKeptWeatherForecastIsUsedInsteadOfTheWeather(t *testing.T) {
	t.Parallel()
	s := toySeason(36, func(i int) float64 { return 20 })
	hot := 33.0
	s.Days[35].Forecast = &Weather{TempC: &hot}
	r := run(t, s, Options{})
	require.InDelta(t, 4*200, r.Days[0].Figures[Par].PouredG+leftOf(t, s), 12, "20 % too much, as the forecast heat did not come")
	require.InDelta(t, 20, r.Days[0].TempC, 1e-9)
}

// leftOf is the stock of the par kitchen after the last day. The replay ends when the shop closes.
func leftOf(t *testing.T, s Season) float64 {
	t.Helper()
	more := s
	more.Days = append(slices.Clone(s.Days), Day{Date: s.Days[len(s.Days)-1].Date.AddDays(1), Closed: true})
	r := run(t, more, Options{})
	return r.Days[1].Figures[Par].PouredG
}

// exampleResult is an invented week across two months, closed on Saturday.
func exampleResult() Result {
	r := Result{Title: "Made up to look at the table.", Site: models.Site{Name: "Toy", Currency: "EUR"}, From: "2026-06-28", To: "2026-07-04", Methods: []Method{Plan, Par, Foresight}}
	for i := range 7 {
		d := DayResult{Date: r.From.AddDays(i), Open: i != 6, TempC: 24 + float64(i)}
		for m := range methods {
			f := &d.Figures[m]
			if !d.Open {
				continue
			}
			*f = Figures{OpenDays: 1, Batches: 4, BatchCost: 600, Aging: 120, Demand: 80, Coffee: 2900, PouredG: 500, PouredCoffee: 91.5, Disposal: 10}
			switch m {
			case Par:
				f.Missed, f.Lost, f.IceShortH = 4.5, 1640, 0.25
			case Foresight:
				f.PouredG, f.PouredCoffee, f.Disposal = 0, 0, 0
			case Plan:
				d.Rows, d.Inside = 10, 7.5
			}
		}
		r.Days = append(r.Days, d)
	}
	r.Days[2].TempC = math.NaN()
	return r
}

func TestTableCSVAndChart(t *testing.T) {
	t.Parallel()
	r := exampleResult()
	var text bytes.Buffer
	require.NoError(t, WriteText(&text, &r))
	golden(t, "toy.txt", text.Bytes())

	var out bytes.Buffer
	require.NoError(t, WriteCSV(&out, &r))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	require.Equal(t, CSVColumns, rows[0])
	require.Len(t, rows, 1+3*7)
	require.Equal(t, []string{"2026-06-28", "Sun", "1", "24", "plan", "80", "821.5", "101.5", "3721.5", "4", "600", "91.5", "10", "120", "0", "500", "0", "0", "10", "7.5"}, rows[1])
	require.Equal(t, []string{"2026-07-04", "Sat", "0", "30", "perfect foresight", "0", "0"}, rows[1+3*6+2][:7])

	var pic bytes.Buffer
	require.NoError(t, WriteSVG(&pic, &r))
	dec := xml.NewDecoder(bytes.NewReader(pic.Bytes()))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
	}
	for _, want := range []string{"par sheet, dashed", "the plan, solid", "perfect foresight", "stroke-dasharray", "By Saturday 4 July 2026 the plan cost 6 EUR more than perfect foresight, the par sheet 104 EUR."} {
		require.Contains(t, pic.String(), want)
	}
	require.NotContains(t, pic.String(), "NaN")
}

func TestAResultIsInTheUnitsOfItsSite(t *testing.T) {
	t.Parallel()
	r := exampleResult()
	r.Site.Units = &models.Units{Temperature: models.Fahrenheit, Mass: models.OuncesPounds, Volume: models.FluidOuncesGallons, Clock: models.Clock12, Dates: "month_day"}
	for i := range r.Days {
		r.Days[i].Ranges = []RowRange{{DayPart: "noon", Drink: "iced", P10: 10, P50: 20, P90: 30, Demand: 25}}
	}
	for _, write := range []func(io.Writer, *Result) error{WriteText, WriteSVG, WriteRangesSVG} {
		var b bytes.Buffer
		require.NoError(t, write(&b, &r))
		require.NotRegexp(t, `\bkg\b|°C`, b.String())
		require.Regexp(t, `\d[\s\x{202f}]°F`, b.String())
	}
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, &r))
	require.Contains(t, b.String(), "Days above 82\u202f°F")
	require.Contains(t, b.String(), "Sunday, June 28, 2026")
	require.Contains(t, b.String(), "away lb")
	require.Regexp(t, `par sheet +147\.69 +104\.49 +321\.69 +6\.6 `, b.String(), "3 kg are 6.6 lb")
}

func TestEmptyResult(t *testing.T) {
	t.Parallel()
	var r Result
	for _, write := range []func(io.Writer, *Result) error{WriteText, WriteCSV, WriteSVG} {
		var b bytes.Buffer
		require.NoError(t, write(&b, &r))
		require.NotContains(t, b.String(), "NaN")
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(file, got, 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

func TestSeasonDocument(t *testing.T) {
	t.Parallel()
	s := toySeason(3, func(int) float64 { return 4 })
	s.From = "2026-05-05"
	doc, err := json.Marshal(s)
	require.NoError(t, err)
	got, err := Parse(doc)
	require.NoError(t, err)
	require.Equal(t, s.Days[2].Date, got.Days[2].Date)
	require.InDelta(t, 4, got.Days[2].Counts[0].Count, 0)

	for name, c := range map[string]struct {
		change  func(*Season)
		pointer string
	}{
		"no days":                  {func(s *Season) { s.Days = nil }, "/days"},
		"duplicate date":           {func(s *Season) { s.Days[1].Date = s.Days[0].Date }, "/days/1/date"},
		"unknown part":             {func(s *Season) { s.Days[1].Counts[0].DayPart = "dawn" }, "/days/1/counts/0/day_part"},
		"unknown drink":            {func(s *Season) { s.Days[1].Counts[0].Drink = "tea" }, "/days/1/counts/0/drink"},
		"negative count":           {func(s *Season) { s.Days[2].Counts[0].Count = -1 }, "/days/2/counts/0/count"},
		"duplicate row":            {func(s *Season) { s.Days[0].Counts = append(s.Days[0].Counts, s.Days[0].Counts[0]) }, "/days/0/counts/1"},
		"impossible temperature":   {func(s *Season) { c := 90.0; s.Days[0].Weather.TempC = &c }, "/days/0/weather/temp_c"},
		"start outside the season": {func(s *Season) { s.From = "2020-01-01" }, "/from"},
		"too long":                 {func(s *Season) { s.Days[2].Date = "2126-05-04" }, "/days"},
	} {
		s := toySeason(3, func(int) float64 { return 4 })
		c.change(&s)
		err := s.Validate()
		var bad *models.Error
		require.ErrorAs(t, err, &bad, name)
		require.Equal(t, c.pointer, bad.Fields[0].Pointer, name)
		require.NotEmpty(t, bad.Fields[0].Accepted, name)
	}
	_, err = Parse([]byte(`{"days":[{"date":"2026-02-30"}]}`))
	require.Equal(t, models.CodeMalformed, models.CodeOf(err))
}

func TestSalesAreSplitByDayPart(t *testing.T) {
	t.Parallel()
	setup := shopSeason(t, 1).Setup
	loc := setup.Site.Location()
	d := models.Date("2026-07-11")
	at := func(h, m int) time.Time { return d.At(h*60+m, loc) }
	sales := func(yield func(Sale) bool) {
		_ = yield(Sale{Drink: "iced-house", Span: models.Span{From: at(10, 0), To: at(11, 0)}, Servings: 6}) &&
			yield(Sale{Drink: "iced-house", Span: models.Span{From: at(14, 0), To: at(14, 15)}, Servings: 2}) &&
			yield(Sale{Drink: "iced-house", Span: models.Span{From: d.AddDays(9).At(600, loc), To: d.AddDays(9).At(615, loc)}, Servings: 2})
	}
	s := FromSales(setup, d, d, sales, []models.WeatherHour{{At: at(15, 0), TempC: 34}, {At: at(9, 0), TempC: 22}})
	require.NoError(t, s.Validate())
	require.Equal(t, []Count{{DayPart: "morning", Drink: "iced-house", Count: 3}, {DayPart: "midday", Drink: "iced-house", Count: 3},
		{DayPart: "afternoon", Drink: "iced-house", Count: 2}}, s.Days[0].Counts)
	c, ok := s.Days[0].Weather.maxTemp(d, loc)
	require.True(t, ok)
	require.InDelta(t, 34, c, 0)
	temp, _ := s.Days[0].Weather.over(models.Span{From: at(8, 30), To: at(10, 0)})
	require.InDelta(t, 22, *temp, 0)
}

func TestParseCSV(t *testing.T) {
	t.Parallel()
	const head = "series,date,demand,open,holiday,temp_c,rain_mm,humidity\n"
	s, err := ParseCSV(strings.NewReader(head+"b,2026-05-01,10,1,0,21,0,50\na,2026-05-01,4,1,1,21,,\na,2026-05-02,,0,0,,,\nb,2026-05-02,,0,0,,,\nb,2026-05-03,12.5,1,0,,,\n"), "x.csv")
	require.NoError(t, err)
	require.Len(t, s.Drinks, 2)
	require.Len(t, s.Days, 3)
	require.True(t, s.Days[0].Holiday)
	require.True(t, s.Days[1].Closed)
	require.Equal(t, []Count{{DayPart: "day", Drink: "drink-1", OffSale: true}, {DayPart: "day", Drink: "drink-2", Count: 12.5}}, s.Days[2].Counts)
	require.Contains(t, s.Title, "invented")

	parts, err := ParseCSV(strings.NewReader(head+"07-10,2026-05-01,10,1,0,15,,\n10-13,2026-05-01,20,1,0,25,,\n"), "y.csv")
	require.NoError(t, err)
	require.Len(t, parts.Drinks, 1)
	require.Len(t, parts.Site.DayParts, 2)
	require.InDelta(t, 25, *parts.Days[0].Weather.TempC, 0)
	temp, _ := parts.Days[0].Weather.over(parts.Site.DayPartSpan("2026-05-01", parts.Site.DayParts[0]))
	require.InDelta(t, 15, *temp, 0, "each day part has its own temperature")

	for text, want := range map[string]string{
		"":                                   "",
		"series,date\n":                      "/demand",
		"series,date,demand,colour\n":        "/colour",
		head:                                 "",
		head + "a,2026-02-30,1,1,0,,,\n":     "/line 2/date",
		head + "a,2026-05-01,-1,1,0,,,\n":    "/line 2/demand",
		head + "a,2026-05-01,,1,0,,,\n":      "/line 2/demand",
		head + "a,2026-05-01,1,maybe,0,,,\n": "/line 2/open",
		head + "a,2026-05-01,1,1,0,99,,\n":   "/line 2/temp_c",
		head + ",2026-05-01,1,1,0,9,,\n":     "/line 2/series",
		head + "a,2026-05-01,1,1,0,NaN,,\n":  "/line 2/temp_c",
		head + "a,2026-05-01,1,1,0,,,\n" + "a,2026-05-01,1,1,0,,,\n": "/line 3/date",
	} {
		_, err := ParseCSV(strings.NewReader(text), "bad.csv")
		var bad *models.Error
		require.ErrorAs(t, err, &bad, text)
		if want != "" {
			require.Equal(t, want, bad.Fields[0].Pointer, text)
		}
	}
}

func TestOpenDataIsReplayed(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	for _, name := range []string{"yaz.csv", "bike-2011.csv"} {
		f, err := os.Open("../../testdata/demand/" + name)
		require.NoError(t, err)
		s, err := ParseCSV(f, name)
		require.NoError(t, errors.Join(err, f.Close()))
		r := run(t, s, Options{Days: 2, Budget: 60_000})
		require.Equal(t, map[string]models.Date{"yaz.csv": "2015-05-01", "bike-2011.csv": "2011-10-02"}[name], r.From)
		require.Positive(t, r.Days[1].Figures[Plan].Batches)
	}
}
