package commands

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// exampleBook writes the example workbook and returns its name.
func exampleBook(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "weekend.xlsx")
	c := Plan{File: file, Example: true}
	require.NoError(t, c.writeExample(Streams{}, time.Date(2026, 7, 8, 12, 0, 0, 0, time.UTC)))
	return file
}

func planned(t *testing.T, c Plan) (string, error) {
	t.Helper()
	var out bytes.Buffer
	err := c.Run(context.Background(), Streams{Out: &out, Err: &out})
	return out.String(), err
}

func TestExampleWorkbookIsPlanned(t *testing.T) {
	t.Parallel()
	file := exampleBook(t)
	text, err := planned(t, Plan{File: file, Format: "text"})
	require.NoError(t, err)
	assert.Contains(t, text, "Saturday 11 July 2026")
	assert.Contains(t, text, "House flash, full.")
	assert.NotContains(t, text, "act now", "the example has no shortage that must be acted on")

	book, err := planned(t, Plan{File: file, Format: "xlsx"})
	require.NoError(t, err)
	f, err := excelize.OpenReader(bytes.NewReader([]byte(book)))
	require.NoError(t, err)
	assert.Equal(t, []string{"Saturday 11 July", "Sunday 12 July", "Batches", "Ice to make", "Ice bin", "Water", "Beans"}, f.GetSheetList())
}

func TestFaultsOfAWorkbookNameSheetAndCell(t *testing.T) {
	t.Parallel()
	file := exampleBook(t)
	f, err := excelize.OpenFile(file)
	require.NoError(t, err)
	require.NoError(t, f.SetCellValue("Demand", "D5", "a few"))
	require.NoError(t, f.SetCellValue("drinks", "C2", -1))
	require.NoError(t, f.Save())
	_, err = planned(t, Plan{File: file, Format: "text"})
	var bad *models.Error
	require.ErrorAs(t, err, &bad)
	assert.Equal(t, models.CodeInvalid, bad.Code)
	assert.Equal(t, models.FieldError{Pointer: "Demand!D5", Detail: `"a few" cannot be read`, Accepted: "a number"}, bad.Fields[0])

	require.NoError(t, f.SetCellValue("Demand", "D5", 4))
	require.NoError(t, f.Save())
	_, err = planned(t, Plan{File: file, Format: "text"})
	require.ErrorAs(t, err, &bad)
	assert.Equal(t, "drinks!C2", bad.Fields[0].Pointer)
	assert.Equal(t, "0 or more", bad.Fields[0].Accepted)
}

func TestExampleOverwritesNoFile(t *testing.T) {
	t.Parallel()
	file := exampleBook(t)
	before, err := os.ReadFile(file)
	require.NoError(t, err)
	_, err = planned(t, Plan{File: file, Example: true, Format: "text"})
	require.Equal(t, models.CodeInvalid, models.CodeOf(err))
	after, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(before, after))
}
