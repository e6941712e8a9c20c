// Package setupfile exports a set-up as a workbook (XLSX) and imports one: a sheet of single values, and a sheet per list with a row
// per entry. A plan request is such a workbook with more sheets: Demand, Weather, Stock. Fields have the names and units of the API;
// errors name the sheet and cell.
package setupfile

import (
	"fmt"
	"reflect"
	"strings"

	"hotday/models"
)

// valueSheet is the sheet of values that are not in a list.
const valueSheet = "shop"

// maxRows is the maximum number of rows in a sheet: of demand, the longest list.
const maxRows = 20000

// Types of the documents in workbooks.
var (
	setupType   = reflect.TypeFor[models.Setup]()
	requestType = reflect.TypeFor[models.PlanRequest]()
)

// sheet describes the sheet of a list.
type sheet struct {
	path         string // "coffees", "coffees.lots"
	parent       string // path of the enclosing list; "": none
	parentColumn string // heading of the column with the parent's code: "coffee"
	row          reflect.Type
}

// column describes a field of a list entry, or a single value.
type column struct {
	name  string // "bath_temp_c", "source.ca_mg_l"
	kind  reflect.Type
	list  bool // strings separated by commas
	index []int

	needed bool   // may not be left out
	preset string // value where it is left out
}

// sheets returns the lists of a document in field order, each before the lists nested in it.
func sheets(document reflect.Type) (out []sheet) {
	var walk func(t reflect.Type, path, parent string)
	walk = func(t reflect.Type, path, parent string) {
		for i := range t.NumField() {
			f := t.Field(i)
			at := joinPath(path, jsonName(f))
			ft := deref(f.Type)
			switch {
			case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
				out = append(out, sheet{path: at, parent: parent, parentColumn: singular(parent), row: ft.Elem()})
				walk(ft.Elem(), at, at)
			case isGroup(ft):
				walk(ft, at, parent)
			}
		}
	}
	walk(document, "", "")
	return out
}

// columns returns the single values of a struct; those of nested structs have dotted names.
func columns(t reflect.Type) (out []column) {
	for i := range t.NumField() {
		f := t.Field(i)
		ft := deref(f.Type)
		switch {
		case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
		case ft.Kind() == reflect.Slice:
			out = append(out, column{name: jsonName(f), kind: ft.Elem(), list: true, index: []int{i}})
		case isGroup(ft):
			for _, c := range columns(ft) {
				c.needed = c.needed && isNeeded(f.Tag, f.Type)
				c.name, c.index = joinPath(jsonName(f), c.name), append([]int{i}, c.index...)
				out = append(out, c)
			}
		default:
			c := column{name: jsonName(f), kind: ft, index: []int{i}, needed: isNeeded(f.Tag, f.Type), preset: f.Tag.Get("default")}
			if c.name == "max_yield_pct" {
				c.preset = "" // another for cold brew
			}
			out = append(out, c)
		}
	}
	return out
}

// isGroup distinguishes structs of models from time.Time and the like, which are single values.
func isGroup(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t.PkgPath() == setupType.PkgPath() && t.NumField() > 0 && t.Field(0).IsExported()
}

func deref(t reflect.Type) reflect.Type {
	if t.Kind() == reflect.Pointer {
		return t.Elem()
	}
	return t
}

func jsonName(f reflect.StructField) string {
	n, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return n
}

func joinPath(path, name string) string {
	switch {
	case name == "": // embedded
		return path
	case path == "":
		return name
	}
	return path + "." + name
}

// singular is the name of an entry in a list: "coffee" for "coffees", "maker" for "ice.makers".
func singular(path string) string {
	last := path[strings.LastIndexByte(path, '.')+1:]
	return strings.TrimSuffix(last, "s")
}

func sheetNames(document reflect.Type) string {
	names := []string{valueSheet}
	for _, s := range sheets(document) {
		names = append(names, s.path)
	}
	return strings.Join(names, ", ")
}

func malformed(format string, args ...any) error {
	return models.Errorf(models.CodeMalformed, "%s", fmt.Sprintf(format, args...))
}
