package salesfile

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

// newWorkbook makes a workbook; its first sheet is "Sheet1".
func newWorkbook(t testing.TB, change func(*excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	change(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	require.NoError(t, f.Close())
	return b.Bytes()
}

func fill(t testing.TB, f *excelize.File, sheet string, rows ...[]any) {
	t.Helper()
	for i, r := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(t, err)
		require.NoError(t, f.SetSheetRow(sheet, cell, &r))
	}
}

func at(hour, minute int) time.Time { return time.Date(2026, 7, 11, hour, minute, 0, 0, time.UTC) } // as the cell shows it

func TestXLSXDateCells(t *testing.T) {
	t.Parallel()
	data := newWorkbook(t, func(f *excelize.File) {
		fill(t, f, "Sheet1", []any{"not a sales sheet"})
		_, err := f.NewSheet("July")
		require.NoError(t, err)
		fill(t, f, "July", []any{}, []any{"Product", "Qty", "From", "Until", "By"},
			[]any{"ICED", 7, at(14, 0), at(14, 15), "Till 1"},
			[]any{},
			[]any{4711, "2.5", "2026-07-11 14:15", "11.07.2026 14:30", nil},
			[]any{"LATTE", 0.5, at(23, 50), at(24, 0)})
		// Number formats must not change the values.
		style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
		require.NoError(t, err)
		require.NoError(t, f.SetCellStyle("July", "C3", "D6", style))
		require.NoError(t, f.SetCellFormula("July", "B6", "1/2"))
	})
	o := Options{Zone: zone(t, "Europe/Berlin"), Sheet: "July"}
	got, err := XLSX(data, o)
	require.NoError(t, err)
	require.Empty(t, got.Errors)
	require.Equal(t, []string{"3 ICED 07-11T12:00:00 07-11T12:15:00 7", "5 4711 07-11T12:15:00 07-11T12:30:00 2.5", "6 LATTE 07-11T21:50:00 07-11T22:00:00 0.5"}, format(got))
	require.Equal(t, "July", got.Sheet)
	require.Equal(t, []string{"By"}, got.Ignored)

	o.Sheet = ""
	got, err = XLSX(data, o)
	require.NoError(t, err)
	require.Equal(t, "Sheet1", got.Sheet)
	require.Len(t, got.Errors, 4, "the first sheet has no such columns")
	o.Sheet = "August"
	_, err = XLSX(data, o)
	require.Equal(t, models.CodeInvalid, models.CodeOf(err))
	require.ErrorContains(t, err, "one of Sheet1, July")
}

func TestXLSX1904Epoch(t *testing.T) {
	t.Parallel()
	data := newWorkbook(t, func(f *excelize.File) {
		require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: new(true)}))
		// 2026-07-11 is serial day 46214 from 1900, 1462 less from 1904.
		fill(t, f, "Sheet1", []any{"item", "start", "end", "count"}, []any{"ICED", 44752.5, 44752.510416666664, 7})
	})
	got, err := XLSX(data, Options{})
	require.NoError(t, err)
	require.Equal(t, []string{"2 ICED 07-11T12:00:00 07-11T12:15:00 7"}, format(got))
}

func TestInvalidCellsNameTheirRow(t *testing.T) {
	t.Parallel()
	data := newWorkbook(t, func(f *excelize.File) {
		fill(t, f, "Sheet1", []any{"item", "start", "end", "count"}, []any{"ICED", 7, at(14, 15), 1}, []any{"ICED", at(14, 0), at(14, 15), "#N/A"},
			[]any{"ICED", -1e300, at(14, 15), 1}, []any{"ICED", at(14, 0), at(13, 0), 1})
	})
	got, err := XLSX(data, Options{})
	require.NoError(t, err)
	require.Len(t, got.Errors, 4)
	for i, column := range []string{"start", "count", "start", "end"} {
		require.Equal(t, i+2, got.Errors[i].Row)
		require.Equal(t, column, got.Errors[i].Column)
	}
	require.Contains(t, got.Errors[0].Detail, "not a date cell")
}

// replacePart replaces one part of a workbook.
func replacePart(t testing.TB, data []byte, part string, content io.Reader) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		if f.Name == part {
			continue
		}
		require.NoError(t, out.Copy(f))
	}
	w, err := out.Create(part)
	require.NoError(t, err)
	_, err = io.Copy(w, content)
	require.NoError(t, err)
	require.NoError(t, out.Close())
	return b.Bytes()
}

// withWrongSize adds a part that unpacks to far more than its directory entry states.
func withWrongSize(t testing.TB, data []byte) []byte {
	t.Helper()
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var packed, b bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestSpeed)
	require.NoError(t, err)
	_, err = io.CopyN(w, zeros{}, 5<<20)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		require.NoError(t, out.Copy(f))
	}
	part, err := out.CreateRaw(&zip.FileHeader{Name: "xl/media/image1.png", Method: zip.Deflate, CompressedSize64: uint64(packed.Len()), UncompressedSize64: 100})
	require.NoError(t, err)
	_, err = part.Write(packed.Bytes())
	require.NoError(t, err)
	require.NoError(t, out.Close())
	return b.Bytes()
}

// damaged flips a bit in the compressed sheet.
func damaged(data []byte) []byte {
	in, _ := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	out := bytes.Clone(data)
	for _, f := range in.File {
		if f.Name == "xl/worksheets/sheet1.xml" {
			at, _ := f.DataOffset()
			out[at+int64(f.CompressedSize64)/2] ^= 0x10
		}
	}
	return out
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestHostileWorkbooksAreRefused(t *testing.T) {
	t.Parallel()
	good := newWorkbook(t, func(f *excelize.File) {
		fill(t, f, "Sheet1", []any{"item", "start", "end", "count"}, []any{"ICED", at(14, 0), at(14, 15), 7})
	})
	sheet := func(rows string) []byte {
		return replacePart(t, good, "xl/worksheets/sheet1.xml", strings.NewReader(`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`+rows+`</sheetData></worksheet>`))
	}
	head := `<row r="1"><c t="str"><v>item</v></c><c t="str"><v>start</v></c><c t="str"><v>end</v></c><c t="str"><v>count</v></c></row>`
	for name, c := range map[string]struct {
		data []byte
		code models.Code
	}{
		"not a zip":                        {[]byte("item,start,end,count\n"), models.CodeMalformed},
		"empty":                            {nil, models.CodeMalformed},
		"a zip of something else":          {replacePart(t, []byte("PK\x05\x06"+strings.Repeat("\x00", 18)), "readme.txt", strings.NewReader("hello")), models.CodeMalformed},
		"truncated":                        {good[:len(good)/2], models.CodeMalformed},
		"a part that unpacks to 9 MiB":     {replacePart(t, good, "xl/media/image1.png", io.LimitReader(zeros{}, 9<<20)), models.CodeTooLarge},
		"a part with a wrong size":         {withWrongSize(t, good), models.CodeMalformed},
		"styles of 300,001 elements":       {replacePart(t, good, "xl/styles.xml", strings.NewReader(strings.Repeat("<xf/>", 300_001))), models.CodeTooLarge},
		"a sheet that unpacks to 9 MiB":    {replacePart(t, good, "xl/worksheets/sheet1.xml", io.LimitReader(zeros{}, 9<<20)), models.CodeTooLarge},
		"a row that claims 16,384 columns": {sheet(head + `<row r="2"><c r="XFD2"><v>1</v></c></row>`), models.CodeMalformed},
		"too many rows":                    {sheet(head + strings.Repeat(`<row><c t="str"><v>A</v></c></row>`, MaxRows+1)), models.CodeTooLarge},
		"a damaged part":                   {damaged(good), models.CodeMalformed},
		"no sheet data":                    {replacePart(t, good, "xl/worksheets/sheet1.xml", strings.NewReader("<worksheet/>")), models.CodeMalformed},
		"no workbook part":                 {replacePart(t, good, "xl/workbook.xml", strings.NewReader("")), models.CodeMalformed},
	} {
		_, err := XLSX(c.data, Options{maxUnpacked: 8 << 20})
		require.Equal(t, c.code, models.CodeOf(err), "%s: %v", name, err)
	}
	// The last possible row, with a huge cell.
	got, err := XLSX(sheet(head+`<row r="1048576"><c t="str"><v>`+strings.Repeat("x", 1<<20)+`</v></c></row>`), Options{})
	require.NoError(t, err)
	require.Len(t, got.Errors, 4)
	require.Equal(t, 1048576, got.Errors[0].Row)
	require.Less(t, len(got.Errors[0].Detail), 200)
}

func FuzzXLSXSheet(f *testing.F) {
	good := newWorkbook(f, func(b *excelize.File) {
		fill(f, b, "Sheet1", []any{"item", "start", "end", "count"}, []any{"ICED", at(14, 0), at(14, 15), 7})
	})
	for _, seed := range []string{`<row r="1"><c r="A1" t="s"><v>99</v></c></row>`, `<row r="-1"><c r="A0" t="inlineStr"><is><t>item</t></is></c></row>`, `<row><c r="ZZZZ1"/></row>`, `<row r="2`} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, rows string) {
		_, err := XLSX(replacePart(t, good, "xl/worksheets/sheet1.xml", strings.NewReader(`<worksheet><sheetData>`+rows+`</sheetData></worksheet>`)), Options{})
		if err != nil {
			require.NotEqual(t, models.CodeInternal, models.CodeOf(err))
		}
	})
}
