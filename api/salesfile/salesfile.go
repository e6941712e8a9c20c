// Package salesfile reads sales counts from exported files: CSV text and XLSX workbooks with the columns item, start, end and count.
// It never guesses silently: an ambiguous or invalid row is a RowError, and decisions that affect many rows (separator, hours repeated
// by a clock change) are reported.
package salesfile

import (
	"fmt"
	"time"

	"hotday/models"
)

// Limits of a file.
const (
	MaxRows   = 200_000 // rows below the heading
	MaxErrors = 200     // errors listed; the rest are only counted

	maxColumns       = 100      // a workbook row can claim 16,384
	maxUnpackedBytes = 64 << 20 // unpacked parts of a workbook
)

// Columns of a sales file, as named in errors.
const (
	ColumnItem  = "item"
	ColumnStart = "start"
	ColumnEnd   = "end"
	ColumnCount = "count"
)

// Options configure reading.
type Options struct {
	Zone  *time.Location // for times without an offset; nil: UTC
	Sheet string         // of a workbook; "": the first
	Now   time.Time      // windows that start more than models.MaxAhead after it are refused; zero: none

	maxUnpacked int64 // bytes; 0: maxUnpackedBytes
}

// Row is a count with its row in the file.
type Row struct {
	Row int `json:"row"` // from 1
	models.SalesCount
}

// RowError is an error in a row.
type RowError struct {
	Row      int    `json:"row"`    // from 1
	Column   string `json:"column"` // item, start, end or count; empty: the whole row
	Detail   string `json:"detail"`
	Accepted string `json:"accepted,omitempty"`
}

// Heading maps a heading of the file to a column.
type Heading struct {
	Column  string `json:"column"`
	Heading string `json:"heading"`
}

// File is a parsed file.
type File struct {
	Form          string     `json:"form"`                // csv or xlsx
	Separator     string     `json:"separator,omitempty"` // of CSV: comma, semicolon or tab
	Sheet         string     `json:"sheet,omitempty"`     // of a workbook
	Headings      []Heading  `json:"headings"`
	Ignored       []string   `json:"ignored"` // headings of unused columns
	RowCount      int        `json:"rows"`    // number of non-blank rows below the heading
	Rows          []Row      `json:"-"`       // valid rows without duplicates
	Errors        []RowError `json:"errors"`
	ErrorsLeftOut int        `json:"errors_left_out"` // number of errors not listed
	Notes         []string   `json:"notes"`           // decisions that affected rows
}

// Err returns Errors as one CodeInvalid error with pointers /rows/{row}/{column}, nil if there are none.
func (f *File) Err() error {
	if len(f.Errors) == 0 {
		return nil
	}
	e := &models.Error{Code: models.CodeInvalid, Message: fmt.Sprintf("%d errors in the file; nothing was imported", len(f.Errors)+f.ErrorsLeftOut)}
	for _, x := range f.Errors {
		at := fmt.Sprintf("/rows/%d", x.Row)
		if x.Column != "" {
			at += "/" + x.Column
		}
		e.Fields = append(e.Fields, models.FieldError{Pointer: at, Detail: x.Detail, Accepted: x.Accepted})
	}
	return e
}

// Counts returns the counts of Rows.
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
