package setupfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

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
	for _, sh := range sheets() {
		w.writeList(sh, reflect.ValueOf(s))
	}
	if w.err != nil {
		return nil, fmt.Errorf("workbook: %w", w.err)
	}
	var out bytes.Buffer
	if err := book.Write(&out); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	return out.Bytes(), nil
}

type writer struct {
	book *excelize.File
	bold int
	err  error
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
		if v, ok := cellValue(s, c); ok {
			n++
			w.writeRow(valueSheet, n, []any{c.name, v})
		}
	}
}

func (w *writer) writeList(sh sheet, s reflect.Value) {
	if w.err != nil {
		return
	}
	if _, err := w.book.NewSheet(sh.path); err != nil {
		w.err = err
		return
	}
	var names []any
	if sh.parentColumn != "" {
		names = append(names, sh.parentColumn)
	}
	cols := columns(sh.row)
	for _, c := range cols {
		names = append(names, c.name)
	}
	w.writeHeading(sh.path, names)
	n := 1
	eachRow(s, strings.Split(sh.path, "."), "", func(of string, row reflect.Value) {
		var values []any
		if sh.parentColumn != "" {
			values = append(values, of)
		}
		for _, c := range cols {
			v, _ := cellValue(row, c)
			values = append(values, v)
		}
		n++
		w.writeRow(sh.path, n, values)
	})
}

// eachRow calls do for each entry of the list at path, with the parent's code.
func eachRow(v reflect.Value, path []string, parentCode string, do func(parentCode string, row reflect.Value)) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
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
