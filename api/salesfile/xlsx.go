package salesfile

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// XLSX reads one sheet of a workbook: the first, or the one that the options name. A number in a column of times is a date cell.
// What is no workbook is CodeMalformed; one that unpacks to more than 128 MiB, or has more than MaxRows rows, is CodeTooLarge;
// a sheet that is not there is CodeInvalid; what is wrong in rows is in File.Faults.
func XLSX(data []byte, o Options) (file File, err error) {
	// The workbook reader is not ours, and what comes here may be made to break it.
	defer func() {
		if recover() != nil {
			file, err = File{}, notABook()
		}
	}()
	most := cmp.Or(o.unpacked, maxUnpacked)
	if err := unpacks(data, most); err != nil {
		return File{}, err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: most, UnzipXMLSizeLimit: min(most, excelize.StreamChunkSize)})
	if err != nil {
		return File{}, notABook()
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	r := newReader("xlsx", o)
	if r.out.Sheet, err = sheetOf(book, o.Sheet); err != nil {
		return File{}, err
	}
	if props, err := book.GetWorkbookProps(); err == nil && props.Date1904 != nil {
		r.epoch1904 = *props.Date1904
	}
	r.serial = true
	return r.sheet(book)
}

func notABook() error { return malformed("the file is no workbook (XLSX) that can be read") }

// unpacks reads every part through to its end: the workbook reader takes a part that breaks off, or whose checksum is wrong, for
// a shorter one, and a sheet must not lose rows unseen.
func unpacks(data []byte, most int64) error {
	book, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return notABook()
	}
	left := most
	for _, part := range book.File {
		in, err := part.Open()
		if err != nil {
			return notABook()
		}
		n, err := io.Copy(io.Discard, io.LimitReader(in, left+1))
		if left -= n; left < 0 {
			return &models.Error{Code: models.CodeTooLarge, Message: "the workbook unpacks to too much",
				Fields: []models.FieldError{{Detail: fmt.Sprintf("it unpacks to more than %d MiB", most>>20), Accepted: "a workbook with only the sheet of sales, or CSV"}}}
		}
		if err := errors.Join(err, in.Close()); err != nil {
			return malformed("the part %s of the workbook is damaged", quoted(part.Name))
		}
	}
	return nil
}

func sheetOf(book *excelize.File, wanted string) (string, error) {
	sheets := book.GetSheetList()
	switch {
	case len(sheets) == 0:
		return "", malformed("the workbook has no sheet")
	case wanted == "":
		return sheets[0], nil
	case !slices.Contains(sheets, wanted):
		names := make([]string, 0, len(sheets))
		for _, s := range sheets[:min(len(sheets), 20)] {
			names = append(names, short(s))
		}
		return "", models.Invalid("/sheet", "one of "+strings.Join(names, ", "), "the workbook has no sheet %s", quoted(wanted))
	}
	return wanted, nil
}

func (r *reader) sheet(book *excelize.File) (File, error) {
	rows, err := book.Rows(r.out.Sheet)
	if err != nil {
		return File{}, malformed("the sheet %s cannot be read", quoted(r.out.Sheet))
	}
	defer rows.Close()
	for n := 1; rows.Next(); n++ {
		fields, err := rows.Columns()
		if err != nil {
			return File{}, malformed("row %d of the sheet %s cannot be read", n, quoted(r.out.Sheet))
		}
		if len(fields) > maxColumns {
			return File{}, malformed("row %d has %d columns; a sales file has at most %d", n, len(fields), maxColumns)
		}
		more, err := r.take(n, fields)
		if err != nil {
			return File{}, err
		}
		if !more {
			break
		}
	}
	if err := rows.Error(); err != nil {
		return File{}, malformed("the sheet %s cannot be read to its end", quoted(r.out.Sheet))
	}
	return r.done()
}
