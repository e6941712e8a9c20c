package api

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/api/web"
	"hotday/models"
	"hotday/planner/paper"
)

// getPrepSheet serves the published sheet as JSON, as a page to print or as PDF.
func (s *Server) getPrepSheet(c *gin.Context) error {
	q := params(c, "as", "paper")
	form, err := q.format(asJSON, asHTML, asPDF)
	size := q.paper()
	if err := cmp.Or(q.err(), err); err != nil {
		return err
	}
	sheet, err := s.sheetAt(c)
	if err != nil {
		return err
	}
	body, err := encodeJSON(sheet)
	if err != nil {
		return err
	}
	if form == asJSON {
		if !notModified(c, s.tag(form, string(body))) {
			c.Data(http.StatusOK, asJSON, body)
		}
		return nil
	}
	setup, version, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	if form == asPDF && notModified(c, s.tag(form, string(body), version, size.Name)) {
		return nil
	}
	var page bytes.Buffer
	plan, _, err := s.Store.Plan(c.Request.Context(), c.Param("site"), sheet.Revision)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return err
	}
	if form == asPDF {
		pdf, err := paper.PrepSheet(setup, sheet, plan, size)
		return writeFile(c, asPDF, "prep-sheet-"+string(sheet.Date)+".pdf", pdf, err)
	}
	reader := web.SheetReader{CSRF: c.GetString(csrfKey), Now: s.Now(), Demo: s.Demo}
	if token, ok := callerToken(c); ok && reader.CSRF != "" { // in a browser that is signed in
		reader.MayMark = token.May(models.ScopeKitchen, c.Param("site"))
	}
	if reader.MayMark {
		if reader.Marks, err = s.Store.Marks(c.Request.Context(), c.Param("site"), sheet.Date, sheet.Date.AddDays(1)); err != nil {
			return err
		}
	}
	if err := web.WritePrepSheet(&page, setup, sheet, plan, reader); err != nil {
		return fmt.Errorf("render a prep sheet: %w", err)
	}
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page.Bytes())
	return nil
}

// sheetAt returns the published sheet for the date in the path.
func (s *Server) sheetAt(c *gin.Context) (models.PrepSheet, error) { return s.sheetIn(c, s.Store) }

// sheetIn is sheetAt within a transaction.
func (s *Server) sheetIn(c *gin.Context, tx models.Store) (models.PrepSheet, error) {
	var date models.Date
	if date.UnmarshalText([]byte(c.Param("date"))) != nil {
		return models.PrepSheet{}, models.Errorf(models.CodeNotFound, "%q is not a date such as 2026-07-11", c.Param("date"))
	}
	return tx.Sheet(c.Request.Context(), c.Param("site"), date)
}
