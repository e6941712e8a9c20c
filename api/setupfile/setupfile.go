// Package setupfile writes a set-up as a workbook (XLSX) and reads one back: a sheet of single values, and a sheet for each list
// with a row for each of its things. Fields have the names and units of the interface for programs; what is wrong is said with
// its sheet and cell.
package setupfile

import (
	"fmt"
	"reflect"
	"strings"

	"hotday/models"
)

// single is the sheet of what is in no list.
const single = "shop"

// maxRows is the most rows that a sheet may have; no list of a set-up may be longer.
const maxRows = 1000

// sheet is a list of the set-up as a sheet.
type sheet struct {
	path   string // "coffees", "coffees.lots"
	parent string // path of the list whose things have these; empty: none
	of     string // heading of the column that names the parent: "coffee"
	row    reflect.Type
}

// column is a field of a row, or a single value.
type column struct {
	name  string // "bath_temp_c", "source.ca_mg_l"
	kind  reflect.Type
	list  bool // texts between commas
	index []int
}

// sheets are the lists of the set-up in the order of its type, each before those inside it.
func sheets() (out []sheet) {
	var walk func(t reflect.Type, path, parent string)
	walk = func(t reflect.Type, path, parent string) {
		for i := range t.NumField() {
			f := t.Field(i)
			at := join(path, name(f))
			ft := base(f.Type)
			switch {
			case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
				out = append(out, sheet{path: at, parent: parent, of: one(parent), row: ft.Elem()})
				walk(ft.Elem(), at, at)
			case isGroup(ft):
				walk(ft, at, parent)
			}
		}
	}
	walk(reflect.TypeFor[models.Setup](), "", "")
	return out
}

// columns are the single values of a type, those of structs inside it by points.
func columns(t reflect.Type) (out []column) {
	for i := range t.NumField() {
		f := t.Field(i)
		ft := base(f.Type)
		switch {
		case ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct:
		case ft.Kind() == reflect.Slice:
			out = append(out, column{name: name(f), kind: ft.Elem(), list: true, index: []int{i}})
		case isGroup(ft):
			for _, c := range columns(ft) {
				c.name, c.index = join(name(f), c.name), append([]int{i}, c.index...)
				out = append(out, c)
			}
		default:
			out = append(out, column{name: name(f), kind: ft, index: []int{i}})
		}
	}
	return out
}

// isGroup tells structs of the set-up from times, which are single values.
func isGroup(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t.PkgPath() == reflect.TypeFor[models.Setup]().PkgPath() && t.NumField() > 0 && t.Field(0).IsExported()
}

func base(t reflect.Type) reflect.Type {
	if t.Kind() == reflect.Pointer {
		return t.Elem()
	}
	return t
}

func name(f reflect.StructField) string {
	n, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return n
}

func join(path, name string) string {
	switch {
	case name == "": // embedded
		return path
	case path == "":
		return name
	}
	return path + "." + name
}

// one is the noun of a thing in a list: "coffee" in "coffees", "maker" in "ice.makers".
func one(path string) string {
	last := path[strings.LastIndexByte(path, '.')+1:]
	return strings.TrimSuffix(last, "s")
}

func sheetNames() string {
	names := []string{single}
	for _, s := range sheets() {
		names = append(names, s.path)
	}
	return strings.Join(names, ", ")
}

func malformed(format string, args ...any) error {
	return models.Errorf(models.CodeMalformed, "%s", fmt.Sprintf(format, args...))
}
