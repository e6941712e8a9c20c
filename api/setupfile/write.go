package setupfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// Write returns a set-up as a workbook from which Read gives the same set-up.
func Write(s models.Setup) ([]byte, error) {
	book := excelize.NewFile()
	defer func() { _ = book.Close() }() // in memory only
	if err := book.SetSheetName(book.GetSheetName(0), valueSheet); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	w := writer{book: book}
	w.writeValues(reflect.ValueOf(s))
	for _, sh := range sheets(setupType) {
		w.writeList(sh, sh.path, columns(sh.row), reflect.ValueOf(s))
	}
	return w.bytes()
}

// WriteRequest returns a plan request as a workbook to fill in, from which ReadRequest gives the same request: only the sheets and
// columns that are needed or used, with units in the headings and notes in the cells.
func WriteRequest(r models.PlanRequest) ([]byte, error) {
	book := excelize.NewFile()
	defer func() { _ = book.Close() }() // in memory only
	if err := book.SetSheetName(book.GetSheetName(0), valueSheet); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	w := writer{book: book, explained: true, loc: r.Site.Location()}
	doc := reflect.ValueOf(r)
	w.writeValues(doc)
	for _, sh := range sheets(requestType) {
		rows := 0
		var used []column
		for _, c := range columns(sh.row) {
			is := c.needed
			n := 0
			eachRow(doc, strings.Split(sh.path, "."), "", func(_ string, row reflect.Value) {
				n++
				v, ok := w.cellValue(row, c)
				is = is || ok && !c.isPreset(v)
			})
			if rows = n; is {
				used = append(used, c)
			}
		}
		if rows == 0 {
			continue
		}
		name := sh.path
		switch name {
		case "demand", "weather", "stock": // the sheets that are filled in for each plan
			name = strings.ToUpper(name[:1]) + name[1:]
		}
		w.writeList(sh, name, used, doc)
	}
	return w.bytes()
}

// isPreset reports whether a value is that of a field that is left out.
func (c column) isPreset(v any) bool {
	text := fmt.Sprint(v)
	switch {
	case c.preset != "":
		return text == c.preset || c.preset == "true" && text == "yes" || c.preset == "false" && text == "no"
	case text == "0", text == "no", text == "":
		return !c.needed
	}
	return false
}

type writer struct {
	book      *excelize.File
	bold      int
	explained bool           // units in the headings, notes in the cells, nothing that may be left out
	loc       *time.Location // times are written by its clock; nil: as in the API
	err       error
}

func (w *writer) bytes() ([]byte, error) {
	if w.err != nil {
		return nil, fmt.Errorf("workbook: %w", w.err)
	}
	var out bytes.Buffer
	if err := w.book.Write(&out); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	return out.Bytes(), nil
}

// note attaches a note to a cell, where there is one.
func (w *writer) note(sheet, cell, path string) {
	if text := noteOf(path); w.err == nil && w.explained && text != "" {
		w.err = w.book.AddComment(sheet, excelize.Comment{Cell: cell, Author: "hotday", Text: text})
	}
}

// heading is a field's name, with its unit where headings have them.
func (w *writer) heading(name string) string {
	if unit := unitOf(name); w.explained && unit != "" {
		return name + " (" + unit + ")"
	}
	return name
}

// cellValue is a single value as a cell; false: not set.
func (w *writer) cellValue(v reflect.Value, c column) (any, bool) {
	x, ok := cellValue(v, c)
	if text, isText := x.(string); ok && isText && w.loc != nil && c.kind == reflect.TypeFor[time.Time]() {
		if t, err := time.Parse(time.RFC3339, text); err == nil {
			return t.In(w.loc).Format("2006-01-02 15:04"), true
		}
	}
	return x, ok
}

func (w *writer) writeRow(sheet string, n int, values []any) {
	if w.err == nil {
		w.err = w.book.SetSheetRow(sheet, fmt.Sprintf("A%d", n), &values)
	}
}

// writeHeading writes the first row in bold and freezes it.
func (w *writer) writeHeading(sheet string, names []any) {
	w.writeRow(sheet, 1, names)
	if w.err == nil && w.bold == 0 {
		w.bold, w.err = w.book.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	}
	if w.err == nil {
		w.err = w.book.SetRowStyle(sheet, 1, 1, w.bold)
	}
	if w.err == nil {
		w.err = w.book.SetPanes(sheet, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
	}
	if w.err == nil {
		last, err := excelize.ColumnNumberToName(len(names))
		if err != nil {
			w.err = err
			return
		}
		w.err = w.book.SetColWidth(sheet, "A", last, 18)
	}
}

func (w *writer) writeValues(s reflect.Value) {
	w.writeHeading(valueSheet, []any{"field", "value"})
	n := 1
	for _, c := range columns(s.Type()) {
		if v, ok := w.cellValue(s, c); ok && !(w.explained && c.isPreset(v)) {
			n++
			w.writeRow(valueSheet, n, []any{w.heading(c.name), v})
			w.note(valueSheet, fmt.Sprintf("A%d", n), c.name)
		}
	}
}

// writeList writes some columns of a list to the sheet of a name.
func (w *writer) writeList(sh sheet, name string, cols []column, s reflect.Value) {
	if w.err != nil {
		return
	}
	if _, err := w.book.NewSheet(name); err != nil {
		w.err = err
		return
	}
	var names []any
	if sh.parentColumn != "" {
		names = append(names, sh.parentColumn)
	}
	for _, c := range cols {
		names = append(names, w.heading(c.name))
	}
	w.writeHeading(name, names)
	for i, c := range cols {
		w.note(name, cellName(len(names)-len(cols)+i, 0), sh.path+"."+c.name)
	}
	n := 1
	eachRow(s, strings.Split(sh.path, "."), "", func(of string, row reflect.Value) {
		var values []any
		if sh.parentColumn != "" {
			values = append(values, of)
		}
		for _, c := range cols {
			v, _ := w.cellValue(row, c)
			values = append(values, v)
		}
		n++
		w.writeRow(name, n, values)
	})
}

// eachRow calls do for each entry of the list at path, with the parent's code.
func eachRow(v reflect.Value, path []string, parentCode string, do func(parentCode string, row reflect.Value)) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Anonymous {
			eachRow(v.Field(i), path, parentCode, do)
		}
		if jsonName(f) != path[0] {
			continue
		}
		x := v.Field(i)
		switch {
		case x.Kind() == reflect.Struct:
			eachRow(x, path[1:], parentCode, do)
		case x.Kind() == reflect.Slice:
			for k := range x.Len() {
				if row := x.Index(k); len(path) == 1 {
					do(parentCode, row)
				} else {
					eachRow(row, path[1:], row.FieldByName("Code").String(), do)
				}
			}
		}
	}
}

// cellValue is a single value as a cell; false: not set.
func cellValue(v reflect.Value, c column) (any, bool) {
	for _, i := range c.index {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return nil, false
			}
			v = v.Elem()
		}
		v = v.Field(i)
	}
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return nil, false
		}
		v = v.Elem()
	}
	if c.list {
		var words []string
		for i := range v.Len() {
			words = append(words, fmt.Sprint(v.Index(i).Interface()))
		}
		return strings.Join(words, ", "), len(words) > 0
	}
	switch v.Kind() {
	case reflect.Float64:
		return v.Float(), true
	case reflect.Int, reflect.Int64:
		return v.Int(), true
	case reflect.Bool:
		if v.Bool() {
			return "yes", true
		}
		return "no", true
	}
	b, err := json.Marshal(v.Interface()) // clock times, dates and timestamps, as in the API
	if err != nil {
		return nil, false
	}
	var text string
	if json.Unmarshal(b, &text) != nil {
		return string(b), true
	}
	return text, text != ""
}
