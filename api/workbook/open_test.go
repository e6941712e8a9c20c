package workbook

import (
	"archive/zip"
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// withParts is a workbook with as many further, empty parts.
func withParts(t *testing.T, more int) []byte {
	t.Helper()
	var doc, out bytes.Buffer
	require.NoError(t, excelize.NewFile().Write(&doc))
	in, err := zip.NewReader(bytes.NewReader(doc.Bytes()), int64(doc.Len()))
	require.NoError(t, err)
	w := zip.NewWriter(&out)
	for _, part := range in.File {
		require.NoError(t, w.Copy(part))
	}
	for i := range more {
		_, err := w.Create(fmt.Sprintf("xl/more/%d.xml", i))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

func TestAWorkbookOfVeryManyPartsIsRefused(t *testing.T) {
	t.Parallel()
	sheets := 0
	read := func(book *excelize.File) error { sheets = len(book.GetSheetList()); return nil }
	require.NoError(t, Read(withParts(t, 100), 1<<20, read))
	require.Equal(t, 1, sheets)
	err := Read(withParts(t, maxParts), 1<<20, read)
	require.Equal(t, models.CodeTooLarge, models.CodeOf(err))
	require.ErrorContains(t, err, "too many parts")
}
