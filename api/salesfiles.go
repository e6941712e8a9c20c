package api

import (
	"cmp"
	"context"
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"hotday/api/salesfile"
	"hotday/models"
)

const (
	csvType  = "text/csv"
	xlsxType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// Rows and items shown in a preview.
const (
	previewRows  = 20
	previewItems = 500
)

// salesFilePreview summarises a file and its errors before it is imported.
type salesFilePreview struct {
	salesfile.File
	First        []salesfile.Row `json:"first"`          // the first valid rows, at most 20
	From         *time.Time      `json:"from"`           // earliest window start; null if no row is valid
	To           *time.Time      `json:"to"`             // latest window end
	Items        []salesFileItem `json:"items"`          // largest count first, at most 500
	ItemsLeftOut int             `json:"items_left_out"` // number of items not listed
}

// salesFileItem is an item in a file with its drink at this site.
type salesFileItem struct {
	Item   string  `json:"item"`
	Rows   int     `json:"rows"`
	Count  float64 `json:"count"`
	Drink  *string `json:"drink"`  // null while the item is unmapped or ignored
	Factor float64 `json:"factor"` // servings per count; 1 while unmapped

	Ignored bool `json:"ignored"`
}

// postSalesFile imports a sales file in one transaction, or nothing if any row is invalid. A preview stores nothing.
func (s *Server) postSalesFile(c *gin.Context) error {
	q := params(c, "source", "sheet", "preview")
	source, sheet, preview := q.text("source"), q.text("sheet"), q.boolean("preview")
	const accepted = "1 to 100 characters naming the till or program that the counts come from"
	switch {
	case !utf8.ValidString(source) || strings.ContainsFunc(source, unicode.IsControl):
		q.invalid("source", accepted, "it contains control characters or is not UTF-8")
	case source == "" || len(source) > 100:
		q.invalid("source", accepted, fmt.Sprintf("it has %d characters", utf8.RuneCountInString(source)))
	}
	if err := q.err(); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	file, body, err := s.readSalesFile(c, salesfile.Options{Zone: setup.Site.Location(), Sheet: sheet, Now: s.Now()})
	if err != nil {
		return err
	}
	if preview {
		out, err := s.previewSales(ctx, site, source, file)
		if err != nil {
			return err
		}
		return writeJSON(c, http.StatusOK, out)
	}
	if err := file.Err(); err != nil {
		return err
	}
	if len(file.Rows) == 0 {
		return models.Invalid("/rows", "at least one row below the heading", "the file has no rows")
	}
	return s.storeCounts(c, models.SalesPost{Source: source, Counts: file.Counts()}, append(body, "\n"+source+"\n"+sheet...),
		s.audit, note{models.AuditSalesFile, fmt.Sprintf("%s: %d", source, len(file.Rows))})
}

func (s *Server) readSalesFile(c *gin.Context, o salesfile.Options) (file salesfile.File, body []byte, err error) {
	const possible = "text/csv in UTF-8 or " + xlsxType
	kind, par, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	charset := par["charset"]
	if err != nil || (kind != csvType && kind != xlsxType) || (charset != "" && !strings.EqualFold(charset, "utf-8")) {
		return file, nil, unsupportedMediaType(cmp.Or(c.GetHeader("Content-Type"), "no Content-Type"), possible)
	}
	body, err = readBody(c, func(bytes int64) int64 { return salesFileMemory(kind, bytes) })
	if err != nil {
		return file, nil, err
	}
	read := salesfile.CSV
	if kind == xlsxType {
		read = salesfile.XLSX
	}
	err = s.compute(c, func(context.Context) error {
		file, err = read(body, o)
		return err
	})
	return file, body, err
}

// salesFileMemory is how much memory a sales file takes: its rows, and the parts of a workbook.
func salesFileMemory(kind string, bytes int64) int64 {
	if kind == xlsxType {
		return maxDecoding
	}
	return models.MaxDecoded(bytes)
}

func (s *Server) previewSales(ctx context.Context, site, source string, file salesfile.File) (salesFilePreview, error) {
	out := salesFilePreview{File: file, First: file.Rows[:min(len(file.Rows), previewRows)], Items: []salesFileItem{}}
	if out.First == nil {
		out.First = []salesfile.Row{}
	}
	mappings, err := s.Store.Mappings(ctx, site)
	if err != nil {
		return out, err
	}
	drinks := map[string]models.ItemMapping{} // the latest of each item
	for _, m := range mappings {
		if m.Source == source {
			drinks[m.Item] = m
		}
	}
	at := map[string]int{}
	for i := range file.Rows {
		r := &file.Rows[i]
		if out.From == nil || r.WindowStart.Before(*out.From) {
			out.From = &r.WindowStart
		}
		if out.To == nil || r.WindowEnd.After(*out.To) {
			out.To = &r.WindowEnd
		}
		k, known := at[r.Item]
		if !known {
			k = len(out.Items)
			at[r.Item] = k
			item := salesFileItem{Item: r.Item, Factor: 1}
			if m, mapped := drinks[r.Item]; mapped {
				item.Drink, item.Factor, item.Ignored = m.Drink, m.Factor, m.Drink == nil
			}
			out.Items = append(out.Items, item)
		}
		out.Items[k].Rows++
		out.Items[k].Count += r.Count
	}
	slices.SortStableFunc(out.Items, func(a, b salesFileItem) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Item, b.Item))
	})
	if n := len(out.Items); n > previewItems {
		out.Items, out.ItemsLeftOut = out.Items[:previewItems], n-previewItems
	}
	return out, nil
}
