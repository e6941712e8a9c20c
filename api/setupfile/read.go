package setupfile

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"hotday/api/workbook"
	"hotday/models"
)

// maxUnpacked is far more than a set-up of the largest allowed size.
const maxUnpacked = 32 << 20

// Fault is something wrong in a workbook.
type Fault struct {
	Sheet    string `json:"sheet"`
	Cell     string `json:"cell,omitempty"`
	Detail   string `json:"detail"`
	Accepted string `json:"accepted,omitempty"`
}

// Read reads a set-up from a workbook and checks it. With faults the set-up is not to be used. The error is of a file that is no
// workbook, or too large. Sheets with other names are left alone, so that a shop may keep its notes in the file.
func Read(data []byte) (s models.Setup, faults []Fault, err error) {
	r := reader{doc: map[string]any{}, cells: map[string]where{}, rows: map[string]map[string]any{}, places: map[string]string{}}
	if err := workbook.Read(data, maxUnpacked, r.book); err != nil {
		return s, nil, err
	}
	if len(r.faults) > 0 {
		return s, r.faults, nil
	}
	b, err := json.Marshal(r.doc)
	if err != nil {
		return s, nil, fmt.Errorf("workbook: %w", err)
	}
	if err = models.DecodeStrict(b, &s); err == nil {
		err = s.Validate()
	}
	var bad *models.Error
	if errors.As(err, &bad) {
		for _, f := range bad.Fields {
			at := r.find(f.Pointer)
			faults = append(faults, Fault{at.sheet, at.cell, f.Detail, f.Accepted})
		}
		if len(bad.Fields) == 0 {
			faults = append(faults, Fault{Detail: bad.Message})
		}
		return s, faults, nil
	}
	return s, nil, err
}

type where struct{ sheet, cell string }

type reader struct {
	doc    map[string]any
	cells  map[string]where // by JSON pointer
	rows   map[string]map[string]any
	places map[string]string // "coffees code" → the pointer of that row
	faults []Fault
	known  int // sheets that belong to a set-up
}

func (r *reader) fault(sheet, cell, accepted, format string, args ...any) {
	if len(r.faults) < 100 {
		r.faults = append(r.faults, Fault{sheet, cell, fmt.Sprintf(format, args...), accepted})
	}
}

func (r *reader) book(book *excelize.File) error {
	have := map[string]string{}
	for _, name := range book.GetSheetList() {
		have[strings.ToLower(strings.TrimSpace(name))] = name
	}
	for _, list := range []string{"coffees", "beverages", "drinks", "brewers"} {
		r.doc[list] = []any{}
	}
	if name, ok := have[single]; ok {
		r.known++
		if err := r.singles(book, name); err != nil {
			return err
		}
	}
	for _, sh := range sheets() { // parents come first
		name, ok := have[sh.path]
		if !ok {
			continue
		}
		r.known++
		if err := r.list(book, name, sh); err != nil {
			return err
		}
	}
	if r.known == 0 {
		return malformed("the workbook has none of the sheets of a set-up: %s", sheetNames())
	}
	return nil
}

func table(book *excelize.File, sheet string) ([][]string, error) {
	rows, err := book.Rows(sheet)
	if err != nil {
		return nil, malformed("the sheet %.60q cannot be read", sheet)
	}
	defer func() { _ = rows.Close() }()
	var out [][]string
	for rows.Next() {
		cells, err := rows.Columns()
		if err != nil || len(cells) > 200 {
			return nil, malformed("row %d of the sheet %.60q cannot be read", len(out)+1, sheet)
		}
		if out = append(out, cells); len(out) > maxRows+1 {
			return nil, &models.Error{Code: models.CodeTooLarge, Message: fmt.Sprintf("the sheet %.60q has more than %d rows", sheet, maxRows)}
		}
	}
	if err := rows.Error(); err != nil {
		return nil, malformed("the sheet %.60q cannot be read to its end", sheet)
	}
	return out, nil
}

func (r *reader) singles(book *excelize.File, name string) error {
	rows, err := table(book, name)
	if err != nil {
		return err
	}
	cols := columns(reflect.TypeFor[models.Setup]())
	for i, row := range rows {
		field, text := cellOf(row, 0), cellOf(row, 1)
		if field == "" || i == 0 && strings.EqualFold(field, "field") {
			continue
		}
		k := slices.IndexFunc(cols, func(c column) bool { return strings.EqualFold(c.name, field) })
		if k < 0 {
			r.fault(name, cell(0, i), "a field of the set-up, such as site.timezone", "there is no field %.60q", field)
			continue
		}
		r.put(r.doc, "", cols[k], text, where{name, cell(1, i)})
	}
	return nil
}

func (r *reader) list(book *excelize.File, name string, sh sheet) error {
	rows, err := table(book, name)
	if err != nil || len(rows) == 0 {
		return err
	}
	cols := columns(sh.row)
	heads := make([]int, len(rows[0])) // which column of the set-up; −1: the parent's; −2: none
	for i, h := range rows[0] {
		h = strings.TrimSpace(h)
		heads[i] = slices.IndexFunc(cols, func(c column) bool { return strings.EqualFold(c.name, h) })
		switch {
		case heads[i] >= 0:
		case sh.of != "" && strings.EqualFold(h, sh.of):
		default:
			heads[i] = -2
			if h != "" {
				r.fault(name, cell(i, 0), "one of "+headings(sh, cols), "there is no column %.60q", h)
			}
		}
	}
	for n, row := range rows[1:] {
		if !slices.ContainsFunc(row, func(s string) bool { return strings.TrimSpace(s) != "" }) {
			continue
		}
		r.takeRow(name, sh, cols, heads, row, n+1)
	}
	return nil
}

func headings(sh sheet, cols []column) string {
	var out []string
	if sh.of != "" {
		out = append(out, sh.of)
	}
	for _, c := range cols {
		out = append(out, c.name)
	}
	return strings.Join(out, ", ")
}

func (r *reader) takeRow(name string, sh sheet, cols []column, heads []int, row []string, n int) {
	under, at := any(r.doc), ""
	path := strings.Split(sh.path, ".")
	if sh.parent != "" {
		i := slices.Index(heads, -1)
		of := ""
		if i >= 0 {
			of = cellOf(row, i)
		}
		pointer, ok := r.places[sh.parent+" "+of]
		if !ok {
			r.fault(name, cell(max(i, 0), n), "the code of a row of the sheet "+sh.parent, "there is no %s %.60q", sh.of, of)
			return
		}
		under, at = r.rows[pointer], pointer
		path = path[len(path)-1:]
	}
	owner := under.(map[string]any) //nolint:errcheck // only maps are put into rows
	for _, p := range path[:len(path)-1] {
		owner, at = child(owner, p), at+"/"+p
	}
	last := path[len(path)-1]
	list, _ := owner[last].([]any)
	pointer := fmt.Sprintf("%s/%s/%d", at, last, len(list))
	made := map[string]any{}
	owner[last] = append(list, made)
	r.rows[pointer], r.cells[pointer] = made, where{name, cell(0, n)}
	for i := range heads {
		if heads[i] >= 0 {
			r.put(made, pointer, cols[heads[i]], cellOf(row, i), where{name, cell(i, n)})
		}
	}
	if code, ok := made["code"].(string); ok {
		if _, twice := r.places[sh.path+" "+code]; !twice {
			r.places[sh.path+" "+code] = pointer
		}
	}
}

func child(m map[string]any, name string) map[string]any {
	c, ok := m[name].(map[string]any)
	if !ok {
		c = map[string]any{}
		m[name] = c
	}
	return c
}

// put sets one value from a cell. An empty cell is a field left out.
func (r *reader) put(into map[string]any, pointer string, c column, text string, at where) {
	names := strings.Split(c.name, ".")
	for _, n := range names[:len(names)-1] {
		into, pointer = child(into, n), pointer+"/"+n
	}
	last := names[len(names)-1]
	pointer += "/" + last
	r.cells[pointer] = at
	if text == "" {
		return
	}
	v, accepted := read(c, text)
	if v == nil {
		r.fault(at.sheet, at.cell, accepted, "%.60q cannot be read", text)
		return
	}
	into[last] = v
}

func read(c column, text string) (v any, accepted string) {
	x, err := strconv.ParseFloat(text, 64)
	isNumber := err == nil && !math.IsInf(x, 0) && !math.IsNaN(x)
	switch {
	case c.list:
		out := []any{}
		for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
			out = append(out, strings.TrimSpace(w))
		}
		return out, ""
	case c.kind == reflect.TypeFor[models.Clock]():
		if isNumber && x >= 0 && x <= 1 { // a cell of a time is a part of a day
			m := int(math.Round(x * 1440))
			return fmt.Sprintf("%02d:%02d", m/60, m%60), ""
		}
		return text, ""
	case c.kind == reflect.TypeFor[models.Date]():
		if isNumber {
			if day, err := excelize.ExcelDateToTime(x, false); err == nil && x > 1 {
				return day.Format(time.DateOnly), ""
			}
			return nil, "a date such as 2026-07-01"
		}
		return text, ""
	case c.kind.Kind() == reflect.Bool:
		switch strings.ToLower(text) {
		case "yes", "true", "1":
			return true, ""
		case "no", "false", "0":
			return false, ""
		}
		return nil, "yes or no"
	case c.kind.Kind() == reflect.Float64, c.kind.Kind() == reflect.Int, c.kind.Kind() == reflect.Int64:
		if !isNumber {
			return nil, "a number"
		}
		return x, ""
	}
	return text, ""
}

// find is the cell of a pointer, or of what is nearest above it.
func (r *reader) find(pointer string) where {
	for p := pointer; p != ""; p = p[:max(0, strings.LastIndexByte(p, '/'))] {
		if at, ok := r.cells[p]; ok {
			return at
		}
	}
	return where{sheet: single}
}

func cellOf(row []string, i int) string {
	if i >= len(row) {
		return ""
	}
	return strings.TrimSpace(row[i])
}

// cell is the name of a cell; column and row count from 0.
func cell(column, row int) string {
	name, err := excelize.CoordinatesToCellName(column+1, row+1)
	if err != nil {
		return ""
	}
	return name
}
