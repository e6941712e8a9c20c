package tables

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

func rounded(x float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(x*p) / p
}

// maxSheetName is the longest name of a sheet in a workbook, in characters.
const maxSheetName = 31

// sheetName is a name without the characters that sheets may not have.
func sheetName(name string) string {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]`, r) {
			return '-'
		}
		return r
	}, name)
	letters := []rune(name)
	return string(letters[:min(len(letters), maxSheetName)])
}

// XLSX writes tables as a workbook, a sheet for each.
func XLSX(list []Table) ([]byte, error) {
	book := excelize.NewFile()
	book.SetZipWriter(func(out io.Writer) excelize.ZipWriter { return &sortedZip{out: out, parts: map[string]*bytes.Buffer{}} })
	defer func() { _ = book.Close() }() // in memory only
	w := &bookWriter{book: book}
	w.bold = w.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	w.moment = w.style(&excelize.Style{CustomNumFmt: new("yyyy-mm-dd hh:mm"), Alignment: &excelize.Alignment{Vertical: "top"}})
	w.text = w.style(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	for i, t := range list {
		name := sheetName(t.Name)
		if i == 0 {
			w.do(book.SetSheetName(book.GetSheetName(0), name))
		} else if w.err == nil {
			_, w.err = book.NewSheet(name)
		}
		w.sheet(name, t)
	}
	var out bytes.Buffer
	if w.do(w.err); w.err == nil {
		w.err = book.Write(&out)
	}
	if w.err != nil {
		return nil, fmt.Errorf("write a workbook: %w", w.err)
	}
	return out.Bytes(), nil
}

// sortedZip writes the parts of a workbook in the order of their names: excelize adds them in no order.
type sortedZip struct {
	out   io.Writer
	parts map[string]*bytes.Buffer
}

func (z *sortedZip) Create(name string) (io.Writer, error) {
	z.parts[name] = &bytes.Buffer{}
	return z.parts[name], nil
}

func (z *sortedZip) AddFS(fs.FS) error { return errors.ErrUnsupported }

func (z *sortedZip) Close() error {
	w := zip.NewWriter(z.out)
	for _, name := range slices.Sorted(maps.Keys(z.parts)) {
		part, err := w.Create(name)
		if err != nil {
			return err
		}
		if _, err := part.Write(z.parts[name].Bytes()); err != nil {
			return err
		}
	}
	return w.Close()
}

type bookWriter struct {
	book               *excelize.File
	bold, moment, text int // styles
	err                error
}

func (w *bookWriter) do(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *bookWriter) style(s *excelize.Style) int {
	id, err := w.book.NewStyle(s)
	w.do(err)
	return id
}

// Widths of columns, in characters.
const (
	narrow  = 11
	ofTime  = 17
	ofText  = 60
	longish = 24 // from here on a text wraps
)

func (w *bookWriter) sheet(name string, t Table) {
	if w.err != nil {
		return
	}
	out, err := w.book.NewStreamWriter(name)
	w.do(err)
	if w.err != nil {
		return
	}
	for i := range t.Head {
		width := max(narrow, min(longish, float64(len(t.Head[i]))))
		for _, row := range t.Rows {
			switch x := row[i].(type) {
			case time.Time:
				width = max(width, ofTime)
			case string:
				width = max(width, min(ofText, float64(len([]rune(x)))+1))
			}
		}
		w.do(out.SetColWidth(i+1, i+1, width))
	}
	w.do(out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	head := make([]any, len(t.Head))
	for i, h := range t.Head {
		head[i] = excelize.Cell{StyleID: w.bold, Value: h}
	}
	w.do(out.SetRow("A1", head))
	for n, row := range t.Rows {
		cells := make([]any, len(row))
		for i, x := range row {
			switch x := x.(type) {
			case time.Time:
				cells[i] = excelize.Cell{StyleID: w.moment, Value: wallClock(x)}
			case string:
				cells[i] = excelize.Cell{StyleID: w.text, Value: x}
			default:
				cells[i] = x
			}
		}
		w.do(out.SetRow("A"+strconv.Itoa(n+2), cells))
	}
	w.do(out.Flush())
}

// wallClock is the time that a clock shows, since cells have no time zone.
func wallClock(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, time.UTC)
}

// CSV writes a table as CSV (RFC 4180) in UTF-8. A text that a spreadsheet would take for a formula gets an apostrophe before it.
func CSV(t Table) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	if err := w.Write(t.Head); err != nil {
		return nil, err
	}
	for _, row := range t.Rows {
		cells := make([]string, len(row))
		for i, x := range row {
			cells[i] = csvCell(x)
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

func csvCell(x any) string {
	switch x := x.(type) {
	case nil:
		return ""
	case time.Time:
		return x.Format("2006-01-02 15:04")
	case float64:
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	text := fmt.Sprint(x)
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}
