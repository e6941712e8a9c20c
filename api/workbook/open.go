// Package workbook opens workbooks (XLSX) that come from outside with care: what they hold may be made to break the reader, or
// to unpack to more than a machine has.
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

// Read opens a workbook whose parts unpack to at most most bytes, and hands it to do. What is no workbook, or is damaged, is
// CodeMalformed; one that unpacks to more is CodeTooLarge. A panic of the reader, which is not ours, is CodeMalformed too.
func Read(data []byte, most int64, do func(*excelize.File) error) (err error) {
	defer func() {
		if recover() != nil {
			err = notABook()
		}
	}()
	if err := unpacks(data, most); err != nil {
		return err
	}
	book, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: most, UnzipXMLSizeLimit: min(most, excelize.StreamChunkSize)})
	if err != nil {
		return notABook()
	}
	return errors.Join(do(book), book.Close())
}

func notABook() error {
	return models.Errorf(models.CodeMalformed, "the file is no workbook (XLSX) that can be read")
}

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
				Fields: []models.FieldError{{Detail: fmt.Sprintf("it unpacks to more than %d MiB", most>>20), Accepted: "a smaller workbook, or CSV"}}}
		}
		if err := errors.Join(err, in.Close()); err != nil {
			return models.Errorf(models.CodeMalformed, "the part %.80q of the workbook is damaged", part.Name)
		}
	}
	return nil
}
