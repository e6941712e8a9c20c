package api

import (
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/api/web"
	"hotday/models"
	"hotday/planner/paper"
)

//go:embed contract.html
var templateFiles embed.FS

const (
	asJSON = "application/json"
	asHTML = "text/html"
	asPDF  = "application/pdf"
	asICS  = "text/calendar"
)

// getPrepSheet answers the sheet that stands as JSON, as a page to print, or as PDF, whichever is preferred.
func (s *Server) getPrepSheet(c *gin.Context) error {
	q := params(c, "as", "paper")
	form, err := q.form(asJSON, asHTML, asPDF)
	size := q.paper()
	if err := cmp.Or(q.err(), err); err != nil {
		return err
	}
	sheet, err := s.sheetAt(c)
	if err != nil {
		return err
	}
	if form == asJSON {
		return answer(c, http.StatusOK, sheet)
	}
	setup, _, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	var page bytes.Buffer
	plan, _, err := s.Store.Plan(c.Request.Context(), c.Param("site"), sheet.Revision)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return err
	}
	if form == asPDF {
		pdf, err := paper.PrepSheet(setup, sheet, plan, size)
		return answerFile(c, asPDF, "prep-sheet-"+string(sheet.Date)+".pdf", pdf, err)
	}
	if err := web.WritePrepSheet(&page, setup, sheet, plan); err != nil {
		return fmt.Errorf("write a prep sheet: %w", err)
	}
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page.Bytes())
	return nil
}
