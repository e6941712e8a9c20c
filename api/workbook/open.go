// Package workbook opens untrusted workbooks (XLSX): it limits the unpacked size, checks every part, and recovers from panics in the
// reader.
package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

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

func tooLarge(format string, args ...any) error {
	return &models.Error{Code: models.CodeTooLarge, Message: "the unpacked workbook is too large",
		Fields: []models.FieldError{{Detail: fmt.Sprintf(format, args...), Accepted: "a smaller workbook, or CSV"}}}
}

func notAWorkbook() error {
	return models.Errorf(models.CodeMalformed, "the file is not a readable workbook (XLSX)")
}

// Limits of a workbook's parts. The reader keeps all but the sheets in memory, where an element takes up to 400 bytes.
const (
	maxElements      = 300_000 // of the styles, the texts and all other parts together
	maxSheetElements = 4_000_000
)

// counter counts the elements of XML that is written to it: the tags that do not end one.
type counter struct {
	elements int
	opened   bool // the last byte was <
}

func (x *counter) Write(p []byte) (int, error) {
	for _, b := range p {
		if x.opened && b != '/' {
			x.elements++
		}
		x.opened = b == '<'
	}
	return len(p), nil
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
	var sheets, others counter
	for _, part := range book.File {
		in, err := part.Open()
		if err != nil {
			return notAWorkbook()
		}
		elements := &others
		if strings.HasPrefix(strings.ToLower(part.Name), "xl/worksheets/") {
			elements = &sheets
		}
		n, err := io.Copy(elements, io.LimitReader(in, remaining+1))
		switch remaining -= n; {
		case remaining < 0:
			return tooLarge("it unpacks to more than %d MiB", maxBytes>>20)
		case others.elements > maxElements:
			return tooLarge("its styles and texts have more than %d elements", maxElements)
		case sheets.elements > maxSheetElements:
			return tooLarge("its sheets have more than %d elements", maxSheetElements)
		}
		if err := errors.Join(err, in.Close()); err != nil {
			return models.Errorf(models.CodeMalformed, "part %.80q of the workbook is damaged", part.Name)
		}
	}
	return nil
}
