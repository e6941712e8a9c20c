// Package tables lays plans, reviews and sales counts out as tables to download, and writes them as XLSX, a sheet for each, or as CSV.
// Quantities are in the site's units, times by its clock. Equal arguments give identical bytes.
package tables

import (
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Table is rows under a heading. Cells are text, float64, int, time.Time by the site's clock, or nil.
type Table struct {
	Code string // "batches"
	Name string // of its sheet
	Head []string
	Rows [][]any
}

// layout makes the cells of a site's tables.
type layout struct {
	say.Voice
	loc *time.Location
}

func layoutFor(site models.Site) layout { return layout{say.For(site), site.Location()} }

// table starts a table whose columns are named by keys of the catalogue.
func (l layout) table(code string, columns ...string) Table {
	t := Table{Code: code, Name: l.Say("file.table." + code)}
	for _, c := range columns {
		t.Head = append(t.Head, l.Say("file.column."+c, "mass", l.FineUnit(), "volume", l.VolumeUnit(), "temperature", l.TempUnit()))
	}
	return t
}

func (t *Table) add(cells ...any) { t.Rows = append(t.Rows, cells) }

// at is a time by the site's clock, nil for none.
func (l layout) at(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.In(l.loc)
}

func (l layout) mass(g float64) any   { return rounded(g/say.Per(l.FineUnit()), 1) }
func (l layout) volume(x float64) any { return rounded(x/say.Per(l.VolumeUnit()), 1) }

func (l layout) temp(c float64) any {
	if l.Fahrenheit() {
		c = c*1.8 + 32
	}
	return rounded(c, 1)
}

// maybe is a quantity that may be unknown.
func maybe(x *float64, as func(float64) any) any {
	if x == nil {
		return nil
	}
	return as(*x)
}

func number(x float64) any { return rounded(x, 2) }
