// Package salesfile reads sales counts from files that people export: CSV text and XLSX workbooks with the columns item, start,
// end and count. It never guesses silently: a row that cannot be read with certainty is a Fault with its row, its column, what is
// wrong and what would be right, and what was decided for a whole file (separator, repeated clock hours) is told.
package salesfile

import (
	"fmt"
	"time"

	"hotday/models"
)

// Limits of a file.
const (
	MaxRows   = 200_000 // rows below the heading
	MaxFaults = 200     // faults that are listed; the others are counted

	maxColumns  = 100       // more are no sales file, and a workbook's row may claim 16,384
	maxUnpacked = 128 << 20 // bytes of a workbook's parts
)

// Columns of a sales file, as faults name them.
const (
	ColumnItem  = "item"
	ColumnStart = "start"
	ColumnEnd   = "end"
	ColumnCount = "count"
)

// Options say how a file is to be read.
type Options struct {
	Zone  *time.Location // of times without an offset
	Sheet string         // of a workbook; "": its first

	unpacked int64 // bytes of a workbook's parts at most; 0: maxUnpacked
}

// Row is one count and where it stands in the file, the first row being 1.
type Row struct {
	Row int `json:"row"` // in the file, its first being 1
	models.SalesCount
}

// Fault is what keeps a row from being taken.
type Fault struct {
	Row      int    `json:"row"`    // in the file, its first being 1
	Column   string `json:"column"` // item, start, end or count; empty for the whole row
	Detail   string `json:"detail"`
	Accepted string `json:"accepted,omitempty"`
}

// Heading says which of the file's headings was taken for a column.
type Heading struct {
	Column  string `json:"column"`
	Heading string `json:"heading"`
}

// File is what was read.
type File struct {
	Form      string    `json:"form"`                // csv or xlsx
	Separator string    `json:"separator,omitempty"` // between the fields of a CSV file: comma, semicolon or tab
	Sheet     string    `json:"sheet,omitempty"`     // of a workbook
	Headings  []Heading `json:"headings"`
	Ignored   []string  `json:"ignored"` // headings of columns that are not used
	Read      int       `json:"rows"`    // rows below the heading that say something
	Rows      []Row     `json:"-"`       // those without fault, none twice
	Faults    []Fault   `json:"errors"`
	LeftOut   int       `json:"errors_left_out"` // errors beyond those listed
	Notes     []string  `json:"notes"`           // what was decided about many rows
}

// Err is nil for a file without faults, else all of them as one CodeInvalid error whose pointers are /rows/{row}/{column}.
func (f *File) Err() error {
	if len(f.Faults) == 0 {
		return nil
	}
	e := &models.Error{Code: models.CodeInvalid, Message: fmt.Sprintf("%d errors in the file; nothing of it was taken", len(f.Faults)+f.LeftOut)}
	for _, x := range f.Faults {
		at := fmt.Sprintf("/rows/%d", x.Row)
		if x.Column != "" {
			at += "/" + x.Column
		}
		e.Fields = append(e.Fields, models.FieldError{Pointer: at, Detail: x.Detail, Accepted: x.Accepted})
	}
	return e
}

// Counts are the rows without their places.
func (f *File) Counts() []models.SalesCount {
	out := make([]models.SalesCount, len(f.Rows))
	for i := range f.Rows {
		out[i] = f.Rows[i].SalesCount
	}
	return out
}

func malformed(format string, args ...any) error {
	return models.Errorf(models.CodeMalformed, format, args...)
}

func tooManyRows() error {
	return &models.Error{Code: models.CodeTooLarge, Message: "the file has too many rows",
		Fields: []models.FieldError{{Detail: fmt.Sprintf("more than %d rows", MaxRows), Accepted: fmt.Sprintf("at most %d rows; send the rest as another file", MaxRows)}}}
}
