// Package workbook opens untrusted workbooks (XLSX): it limits the unpacked size, checks every part, and recovers from panics in the
// reader.
package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// maxParts is far above the parts of any workbook that people make: a few for each sheet.
const maxParts = 2000

// Read opens a workbook whose parts unpack to at most maxBytes and calls do with it. A file that is not a workbook, is damaged or
// makes the reader panic is CodeMalformed; one that unpacks to more is CodeTooLarge.
func Read(data []byte, maxBytes int64, do func(*excelize.File) error) (err error) {
	defer func() {
		if recover() != nil {
			err = notAWorkbook()
		}
	}()
	if err := checkParts(data, maxBytes); err != nil {
		return err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxBytes, UnzipXMLSizeLimit: min(maxBytes, excelize.StreamChunkSize)})
	if err != nil {
		return notAWorkbook()
	}
	return errors.Join(do(book), book.Close())
}

func notAWorkbook() error {
	return models.Errorf(models.CodeMalformed, "the file is not a readable workbook (XLSX)")
}

// checkParts reads every part to its end, because excelize accepts truncated parts and wrong checksums as shorter parts, which would
// silently lose rows of a sheet.
func checkParts(data []byte, maxBytes int64) error {
	book, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return notAWorkbook()
	}
	if len(book.File) > maxParts {
		return &models.Error{Code: models.CodeTooLarge, Message: "the workbook has too many parts",
			Fields: []models.FieldError{{Detail: fmt.Sprintf("it has %d parts", len(book.File)), Accepted: fmt.Sprintf("at most %d parts", maxParts)}}}
	}
	remaining := maxBytes
	for _, part := range book.File {
		in, err := part.Open()
		if err != nil {
			return notAWorkbook()
		}
		n, err := io.Copy(io.Discard, io.LimitReader(in, remaining+1))
		if remaining -= n; remaining < 0 {
			return &models.Error{Code: models.CodeTooLarge, Message: "the unpacked workbook is too large",
				Fields: []models.FieldError{{Detail: fmt.Sprintf("it unpacks to more than %d MiB", maxBytes>>20), Accepted: "a smaller workbook, or CSV"}}}
		}
		if err := errors.Join(err, in.Close()); err != nil {
			return models.Errorf(models.CodeMalformed, "part %.80q of the workbook is damaged", part.Name)
		}
	}
	return nil
}
