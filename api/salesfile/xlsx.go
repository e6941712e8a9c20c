package salesfile

import (
	"cmp"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"hotday/api/workbook"
	"hotday/models"
)

// XLSX reads one sheet of a workbook, the first or the one in the options. A number in a time column is a date cell. A file that is not
// a workbook is CodeMalformed; one that unpacks to more than 64 MiB or has more than MaxRows rows is CodeTooLarge; a missing sheet is
// CodeInvalid; errors in rows are in File.Errors.
func XLSX(data []byte, o Options) (file File, err error) {
	err = workbook.Read(data, cmp.Or(o.maxUnpacked, maxUnpackedBytes), func(book *excelize.File) error {
		r := newReader("xlsx", o)
		if r.out.Sheet, err = sheetOf(book, o.Sheet); err != nil {
			return err
		}
		if props, err := book.GetWorkbookProps(); err == nil && props.Date1904 != nil {
			r.epoch1904 = *props.Date1904
		}
		r.dateCells = true
		file, err = r.sheet(book)
		return err
	})
	if err != nil {
		return File{}, err
	}
	return file, nil
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
			names = append(names, truncate(s))
		}
		return "", models.Invalid("/sheet", "one of "+strings.Join(names, ", "), "the workbook has no sheet %s", quote(wanted))
	}
	return wanted, nil
}

func (r *reader) sheet(book *excelize.File) (File, error) {
	rows, err := book.Rows(r.out.Sheet)
	if err != nil {
		return File{}, malformed("sheet %s cannot be read", quote(r.out.Sheet))
	}
	defer rows.Close()
	for n := 1; rows.Next(); n++ {
		fields, err := rows.Columns()
		if err != nil {
			return File{}, malformed("row %d of sheet %s cannot be read", n, quote(r.out.Sheet))
		}
		if len(fields) > maxColumns {
			return File{}, malformed("row %d has %d columns; a sales file has at most %d", n, len(fields), maxColumns)
		}
		more, err := r.readRow(n, fields)
		if err != nil {
			return File{}, err
		}
		if !more {
			break
		}
	}
	if err := rows.Error(); err != nil {
		return File{}, malformed("sheet %s cannot be read to its end", quote(r.out.Sheet))
	}
	return r.finish()
}
