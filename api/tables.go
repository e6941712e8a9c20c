package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/tables"
)

// maxFileRows is the most rows of a list in one file.
const maxFileRows = 100_000

// writeTables serves tables as a workbook, or one of them as CSV: the one named by the parameter "table", else the first.
func writeTables(c *gin.Context, media, name string, list []tables.Table) error {
	if media == xlsxType {
		book, err := tables.XLSX(list)
		return writeFile(c, media, name+".xlsx", book, err)
	}
	table := list[0]
	if code := c.Query("table"); code != "" {
		var codes []string
		found := false
		for _, t := range list {
			codes = append(codes, t.Code)
			if t.Code == code {
				table, found = t, true
			}
		}
		if !found {
			return models.Invalid("/table", "one of "+strings.Join(codes, ", "), "there is no table %q", code)
		}
	}
	text, err := tables.CSV(table)
	if err != nil {
		return err
	}
	c.Header("Content-Disposition", fileNamed("attachment", name+"-"+table.Code+".csv"))
	c.Data(http.StatusOK, csvType+"; charset=utf-8", text)
	return nil
}

// writeCounts serves all sales counts of a filter as a file.
func (s *Server) writeCounts(c *gin.Context, media string, site models.Site, f models.SalesFilter) error {
	var all []models.SalesRow
	page := models.Page{Limit: models.MaxLimit}
	for {
		got, err := s.Store.Counts(c.Request.Context(), site.Code, f, page)
		if err != nil {
			return err
		}
		if all = append(all, got.Rows...); len(all) > maxFileRows {
			return tooManyRows()
		}
		if got.Next == nil {
			return writeTables(c, media, site.Code+"-counts", []tables.Table{tables.Counts(site, all)})
		}
		page.Cursor = *got.Next
	}
}

func tooManyRows() error {
	return &models.Error{Code: models.CodeInvalid, Message: "there are too many rows for one file", Fields: []models.FieldError{
		{Pointer: "/from", Detail: "there are more than 100,000 rows", Accepted: "from and to closer together"}}}
}
