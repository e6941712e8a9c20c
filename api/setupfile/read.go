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

// maxUnpacked, in bytes, is far more than the largest valid set-up needs.
const maxUnpacked = 32 << 20

// CellError is an error in a workbook.
type CellError struct {
	Sheet    string `json:"sheet"`
	Cell     string `json:"cell,omitempty"`
	Detail   string `json:"detail"`
	Accepted string `json:"accepted,omitempty"`

	Rule  string            `json:"-"` // of a cell that cannot be read, for pages: field, column, parent, number, yes_no, date or moment; else empty
	Fault models.FieldError `json:"-"` // of a value that breaks a rule of the document
}

// Read reads and validates a set-up from a workbook. The set-up must not be used if there are cell errors. err is for a file that is
// not a workbook or too large. Other sheets are ignored, so that a shop can keep notes in the file.
func Read(data []byte) (s models.Setup, errs []CellError, err error) {
	errs, err = readInto(data, setupType, &s, func(map[string]any) {}, s.Validate)
	return s, errs, err
}

// readInto reads a workbook into the document of a type. settle may complete it before it is decoded and validated.
func readInto(data []byte, document reflect.Type, into any, settle func(doc map[string]any), validate func() error) (errs []CellError, err error) {
	r := reader{document: document, doc: map[string]any{}, cells: map[string]cellRef{}, rows: map[string]map[string]any{}, pointers: map[string]string{}}
	if err := workbook.Read(data, maxUnpacked, r.readWorkbook); err != nil {
		return nil, err
	}
	if len(r.errors) > 0 {
		return r.errors, nil
	}
	settle(r.doc)
	b, err := json.Marshal(r.doc)
	if err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	if err = models.DecodeStrict(b, into); err == nil {
		err = validate()
	}
	var bad *models.Error
	if errors.As(err, &bad) {
		for _, f := range bad.Fields {
			at := r.locate(f.Pointer)
			errs = append(errs, CellError{Sheet: at.sheet, Cell: at.cell, Detail: f.Detail, Accepted: f.Accepted, Fault: f})
		}
		if len(bad.Fields) == 0 {
			errs = append(errs, CellError{Detail: bad.Message})
		}
		return errs, nil
	}
	return nil, err
}

type cellRef struct{ sheet, cell string }

type reader struct {
	document   reflect.Type
	loc        *time.Location // of times of day in cells; nil until the shop's time zone is read
	doc        map[string]any
	cells      map[string]cellRef // by JSON pointer
	rows       map[string]map[string]any
	pointers   map[string]string // "coffees CODE" → JSON pointer of that row
	errors     []CellError
	sheetsRead int // number of sheets that belong to the document
}

func (r *reader) addError(rule, sheet, cell, accepted, format string, args ...any) {
	if len(r.errors) < 100 {
		r.errors = append(r.errors, CellError{Sheet: sheet, Cell: cell, Detail: fmt.Sprintf(format, args...), Accepted: accepted, Rule: rule})
	}
}

func (r *reader) readWorkbook(book *excelize.File) error {
	have := map[string]string{}
	for _, name := range book.GetSheetList() {
		have[strings.ToLower(strings.TrimSpace(name))] = name
	}
	for _, list := range []string{"coffees", "beverages", "drinks", "brewers"} {
		r.doc[list] = []any{}
	}
	if name, ok := have[valueSheet]; ok {
		r.sheetsRead++
		if err := r.readValues(book, name); err != nil {
			return err
		}
	}
	for _, sh := range sheets(r.document) { // parents first
		name, ok := have[sh.path]
		if !ok {
			continue
		}
		r.sheetsRead++
		if err := r.readList(book, name, sh); err != nil {
			return err
		}
	}
	if r.sheetsRead == 0 {
		return malformed("the workbook has none of the sheets of a shop: %s", sheetNames(r.document))
	}
	return nil
}

func sheetRows(book *excelize.File, sheet string) ([][]string, error) {
	rows, err := book.Rows(sheet)
	if err != nil {
		return nil, malformed("sheet %.60q cannot be read", sheet)
	}
	defer func() { _ = rows.Close() }()
	var out [][]string
	for rows.Next() {
		cells, err := rows.Columns()
		if err != nil || len(cells) > 200 {
			return nil, malformed("row %d of sheet %.60q cannot be read", len(out)+1, sheet)
		}
		if out = append(out, cells); len(out) > maxRows+1 {
			return nil, &models.Error{Code: models.CodeTooLarge, Message: fmt.Sprintf("sheet %.60q has more than %d rows", sheet, maxRows)}
		}
	}
	if err := rows.Error(); err != nil {
		return nil, malformed("sheet %.60q cannot be read to its end", sheet)
	}
	return out, nil
}

func (r *reader) readValues(book *excelize.File, name string) error {
	rows, err := sheetRows(book, name)
	if err != nil {
		return err
	}
	cols := columns(r.document)
	for _, row := range rows { // times need it, wherever it is
		if strings.EqualFold(fieldName(cellText(row, 0)), "site.timezone") {
			r.loc, _ = time.LoadLocation(cellText(row, 1)) // a zone that is not one is reported when it is validated
		}
	}
	for i, row := range rows {
		field, text := fieldName(cellText(row, 0)), cellText(row, 1)
		if field == "" || i == 0 && strings.EqualFold(field, "field") {
			continue
		}
		k := slices.IndexFunc(cols, func(c column) bool { return strings.EqualFold(c.name, field) })
		if k < 0 {
			r.addError("field", name, cellName(0, i), "a field of the set-up, such as site.timezone", "there is no field %.60q", field)
			continue
		}
		r.set(r.doc, "", cols[k], text, cellRef{name, cellName(1, i)})
	}
	return nil
}

func (r *reader) readList(book *excelize.File, name string, sh sheet) error {
	rows, err := sheetRows(book, name)
	if err != nil || len(rows) == 0 {
		return err
	}
	cols := columns(sh.row)
	columnAt := make([]int, len(rows[0])) // index in cols; −1: the parent's code; −2: none
	for i, h := range rows[0] {
		h = fieldName(strings.TrimSpace(h))
		columnAt[i] = slices.IndexFunc(cols, func(c column) bool { return strings.EqualFold(c.name, h) })
		switch {
		case columnAt[i] >= 0:
		case sh.parentColumn != "" && strings.EqualFold(h, sh.parentColumn):
		default:
			columnAt[i] = -2
			if h != "" {
				r.addError("column", name, cellName(i, 0), "one of "+headings(sh, cols), "there is no column %.60q", h)
			}
		}
	}
	for n, row := range rows[1:] {
		if !slices.ContainsFunc(row, func(s string) bool { return strings.TrimSpace(s) != "" }) {
			continue
		}
		r.readRow(name, sh, cols, columnAt, row, n+1)
	}
	return nil
}

func headings(sh sheet, cols []column) string {
	var out []string
	if sh.parentColumn != "" {
		out = append(out, sh.parentColumn)
	}
	for _, c := range cols {
		out = append(out, c.name)
	}
	return strings.Join(out, ", ")
}

func (r *reader) readRow(name string, sh sheet, cols []column, columnAt []int, row []string, n int) {
	parent, at := any(r.doc), ""
	path := strings.Split(sh.path, ".")
	if sh.parent != "" {
		i := slices.Index(columnAt, -1)
		parentCode := ""
		if i >= 0 {
			parentCode = cellText(row, i)
		}
		pointer, ok := r.pointers[sh.parent+" "+parentCode]
		if !ok {
			r.addError("parent", name, cellName(max(i, 0), n), "a code from sheet "+sh.parent, "there is no %s %.60q", sh.parentColumn, parentCode)
			return
		}
		parent, at = r.rows[pointer], pointer
		path = path[len(path)-1:]
	}
	owner := parent.(map[string]any) //nolint:errcheck // rows holds only maps
	for _, p := range path[:len(path)-1] {
		owner, at = child(owner, p), at+"/"+p
	}
	last := path[len(path)-1]
	list, _ := owner[last].([]any)
	pointer := fmt.Sprintf("%s/%s/%d", at, last, len(list))
	values := map[string]any{}
	owner[last] = append(list, values)
	r.rows[pointer], r.cells[pointer] = values, cellRef{name, cellName(0, n)}
	for i := range columnAt {
		if columnAt[i] >= 0 {
			r.set(values, pointer, cols[columnAt[i]], cellText(row, i), cellRef{name, cellName(i, n)})
		}
	}
	if code, ok := values["code"].(string); ok {
		if _, twice := r.pointers[sh.path+" "+code]; !twice {
			r.pointers[sh.path+" "+code] = pointer
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

// set sets one value from a cell. An empty cell leaves the field out.
func (r *reader) set(into map[string]any, pointer string, c column, text string, at cellRef) {
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
	v, accepted := parseCell(c, text)
	if c.kind == reflect.TypeFor[time.Time]() {
		v, accepted = r.instant(text)
	}
	if v == nil {
		r.addError(ruleOf(c.kind), at.sheet, at.cell, accepted, "%.60q cannot be read", text)
		return
	}
	into[last] = v
}

// instant reads a time: with its offset as in the API, or a date and a time of day at the shop, as text or as a date cell.
func (r *reader) instant(text string) (v any, accepted string) {
	if _, err := time.Parse(time.RFC3339, text); err == nil || r.loc == nil {
		return text, ""
	}
	if x, err := strconv.ParseFloat(text, 64); err == nil {
		if t, err := excelize.ExcelDateToTime(x, false); err == nil && x > 1 {
			text = t.Round(time.Minute).Format("2006-01-02 15:04")
		}
	}
	for _, form := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05"} {
		if t, err := time.ParseInLocation(form, text, r.loc); err == nil {
			return t.Format(time.RFC3339), ""
		}
	}
	return nil, "a date and a time such as 2026-07-11 14:30"
}

// fieldName is a heading without the unit in brackets after it.
func fieldName(heading string) string {
	name, _, _ := strings.Cut(heading, " (")
	return strings.TrimSpace(name)
}

func parseCell(c column, text string) (v any, accepted string) {
	x, err := strconv.ParseFloat(text, 64)
	isNumber := err == nil && !math.IsInf(x, 0) && !math.IsNaN(x)
	switch {
	case c.list:
		out := []any{}
		for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
			v, accepted := parseCell(column{kind: c.kind}, strings.TrimSpace(w))
			if v == nil {
				return nil, accepted + ", or several with commas between"
			}
			out = append(out, v)
		}
		return out, ""
	case c.kind == reflect.TypeFor[models.Clock]():
		if isNumber && x >= 0 && x <= 1 { // time cells are fractions of a day
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

// ruleOf is the rule that a cell of a kind broke when it could not be read.
func ruleOf(kind reflect.Type) string {
	switch {
	case kind == reflect.TypeFor[time.Time]():
		return "moment"
	case kind == reflect.TypeFor[models.Date]():
		return "date"
	case kind.Kind() == reflect.Bool:
		return "yes_no"
	}
	return "number"
}

// locate returns the cell of a JSON pointer or of its nearest ancestor that has one, or the sheet of a list without rows.
func (r *reader) locate(pointer string) cellRef {
	for p := pointer; p != ""; p = p[:max(0, strings.LastIndexByte(p, '/'))] {
		if at, ok := r.cells[p]; ok {
			return at
		}
	}
	path := strings.ReplaceAll(strings.Trim(pointer, "/"), "/", ".")
	if slices.ContainsFunc(sheets(r.document), func(sh sheet) bool { return sh.path == path }) {
		return cellRef{sheet: path}
	}
	return cellRef{sheet: valueSheet}
}

func cellText(row []string, i int) string {
	if i >= len(row) {
		return ""
	}
	return strings.TrimSpace(row[i])
}

// cellName is the name of a cell; column and row count from 0.
func cellName(column, row int) string {
	name, err := excelize.CoordinatesToCellName(column+1, row+1)
	if err != nil {
		return ""
	}
	return name
}
