package api

import (
	"bytes"
	"embed"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/api/web"
	"hotday/models"
)

//go:embed contract.html
var templateFiles embed.FS

const (
	asJSON = "application/json"
	asHTML = "text/html"
)

// getPrepSheet answers the sheet that stands as JSON, or as a page to print where that is preferred.
func (s *Server) getPrepSheet(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	c.Header("Vary", "Accept")
	form, ok := preferred(c.Request.Header.Values("Accept"), asJSON, asHTML)
	if !ok {
		return notAcceptable(asJSON + ", " + asHTML)
	}
	var date models.Date
	if date.UnmarshalText([]byte(c.Param("date"))) != nil {
		return models.Errorf(models.CodeNotFound, "%q is no date such as 2026-07-11", c.Param("date"))
	}
	sheet, err := s.Store.Sheet(c.Request.Context(), c.Param("site"), date)
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
	if err := web.WritePrepSheet(&page, setup, sheet, plan); err != nil {
		return fmt.Errorf("write a prep sheet: %w", err)
	}
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page.Bytes())
	return nil
}
