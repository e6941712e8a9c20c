package replay

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// Columns of a demand file, and those that are required.
var (
	csvColumns = []string{"series", "date", "demand", "open", "holiday", "temp_c", "rain_mm", "humidity"}
	csvNeeded  = []string{"series", "date", "demand"}
)

type csvRow struct {
	series               string
	date                 models.Date
	demand               float64
	open, holiday        bool
	temp, rain, humidity *float64
}

// ParseCSV reads a file of daily demand and invents a shop for it, see shop; name goes into the title. It returns a CodeMalformed
// or CodeInvalid *models.Error that names the line and the column.
func ParseCSV(r io.Reader, name string) (Season, error) {
	rows, err := readRows(r)
	if err != nil {
		return Season{}, err
	}
	s := newTable(rows).season(name)
	return s, s.Validate()
}

func readRows(r io.Reader) ([]csvRow, error) {
	c := csv.NewReader(r)
	c.TrimLeadingSpace = true
	head, err := c.Read()
	if err != nil {
		return nil, models.Errorf(models.CodeMalformed, "the file has no line of column names: %v", err)
	}
	place := map[string]int{}
	for i, h := range head {
		h = strings.TrimPrefix(strings.TrimSpace(h), "\ufeff")
		if !slices.Contains(csvColumns, h) {
			return nil, models.Invalid("/"+h, "one of "+strings.Join(csvColumns, ", "), "there is no such column")
		}
		place[h] = i
	}
	for _, n := range csvNeeded {
		if _, ok := place[n]; !ok {
			return nil, models.Invalid("/"+n, "the columns "+strings.Join(csvColumns, ", "), "this column is missing")
		}
	}
	e := &models.Error{Code: models.CodeInvalid, Message: "the file is not valid"}
	var rows []csvRow
	seen := map[[2]string]int{}
	for {
		fields, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, models.Errorf(models.CodeMalformed, "the file cannot be read: %v", err)
		}
		line, _ := c.FieldPos(0)
		p := rowParser{line: line, e: e, get: func(name string) string {
			if i, ok := place[name]; ok {
				return strings.TrimSpace(fields[i])
			}
			return ""
		}}
		row := p.row()
		key := [2]string{row.series, string(row.date)}
		if first, twice := seen[key]; twice {
			p.fail("date", "one line for a series and date", "line %d says it, too", first)
		}
		seen[key] = line
		rows = append(rows, row)
	}
	if len(e.Fields) > 0 {
		return nil, e
	}
	if len(rows) == 0 {
		return nil, models.Invalid("", "at least one line of demand", "there is none")
	}
	return rows, nil
}

type rowParser struct {
	line int
	e    *models.Error
	get  func(string) string
}

func (p *rowParser) fail(column, accepted, format string, args ...any) {
	if len(p.e.Fields) < 50 {
		p.e.Fields = append(p.e.Fields, models.FieldError{Pointer: fmt.Sprintf("/line %d/%s", p.line, column), Accepted: accepted, Detail: fmt.Sprintf(format, args...)})
	}
}

func (p *rowParser) row() csvRow {
	r := csvRow{series: p.get("series"), open: p.boolean("open", true), holiday: p.boolean("holiday", false), temp: p.number("temp_c", -60, 60),
		rain: p.number("rain_mm", 0, 2000), humidity: p.number("humidity", 0, 100)}
	if r.series == "" || len(r.series) > 60 {
		p.fail("series", "1 to 60 characters", "the series has no usable name")
	}
	if err := r.date.UnmarshalText([]byte(p.get("date"))); err != nil {
		p.fail("date", "a date that exists, written 2026-07-11", "%q is none", p.get("date"))
	}
	switch x := p.number("demand", 0, maxCount); {
	case x != nil:
		r.demand = *x
	case r.open && p.get("demand") == "":
		p.fail("demand", fmt.Sprintf("0 to %.0f", maxCount), "an open day needs its demand")
	}
	return r
}

func (p *rowParser) number(column string, lo, hi float64) *float64 {
	s := p.get(column)
	if s == "" {
		return nil
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= lo && x <= hi) {
		p.fail(column, fmt.Sprintf("a number from %g to %g, or nothing", lo, hi), "%q is none", s)
		return nil
	}
	return &x
}

func (p *rowParser) boolean(column string, empty bool) bool {
	switch strings.ToLower(p.get(column)) {
	case "":
		return empty
	case "1", "true":
		return true
	case "0", "false":
		return false
	}
	p.fail(column, "1 or 0", "%q is neither", p.get(column))
	return empty
}

// demandTable is a demand file by series and date.
type demandTable struct {
	series      []string
	first, last models.Date
	rows        map[string]map[models.Date]*csvRow
}

func newTable(rows []csvRow) *demandTable {
	t := &demandTable{first: rows[0].date, last: rows[0].date, rows: map[string]map[models.Date]*csvRow{}}
	for i := range rows {
		r := &rows[i]
		if t.rows[r.series] == nil {
			t.rows[r.series] = map[models.Date]*csvRow{}
			t.series = append(t.series, r.series)
		}
		t.rows[r.series][r.date] = r
		t.first, t.last = min(t.first, r.date), max(t.last, r.date)
	}
	slices.Sort(t.series)
	return t
}

// trainingShare is the share of the dates before the replay of a demand file begins.
const trainingShare = 0.75

func (t *demandTable) season(name string) Season {
	n := t.first.DaysUntil(t.last) + 1
	from := min(int(math.Ceil(trainingShare*float64(n))), n-1)
	shop := t.shop(from)
	s := Season{Setup: shop.setup, From: t.first.AddDays(from), Title: say.In(words.English).Say("replay.csv.title", "file", name, "shop", shop.description)}
	for i := range n {
		s.Days = append(s.Days, t.day(t.first.AddDays(i), shop))
	}
	return s
}

// day is one date of the file in the invented shop. A series that was closed or has no line is off sale.
func (t *demandTable) day(date models.Date, shop *shop) Day {
	d := Day{Date: date, Closed: true}
	var hours []models.WeatherHour
	for i, name := range t.series {
		c := Count{DayPart: shop.part(i), Drink: shop.drink(i)}
		r := t.rows[name][date]
		if r == nil || !r.open {
			c.OffSale = true
		} else {
			c.Count = r.demand
			d.Closed = false
		}
		d.Counts = append(d.Counts, c)
		if r == nil {
			continue
		}
		d.Holiday = d.Holiday || r.holiday
		if r.temp != nil && (d.Weather.TempC == nil || *r.temp > *d.Weather.TempC) {
			d.Weather.TempC = r.temp
		}
		if d.Weather.RainMM == nil {
			d.Weather.RainMM = r.rain
		}
		if d.Weather.Humidity == nil {
			d.Weather.Humidity = r.humidity
		}
		if shop.byPart && r.temp != nil {
			hours = append(hours, shop.hours(date, i, r)...)
		}
	}
	d.Weather.Hours = hours
	return d
}
