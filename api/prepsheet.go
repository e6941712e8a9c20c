package api

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

//go:embed prepsheet.html contract.html
var templateFiles embed.FS

var sheetTemplate = template.Must(template.New("prepsheet.html").ParseFS(templateFiles, "prepsheet.html"))

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
	if err := sheetTemplate.Execute(&page, newSheetView(sheet, setup.Site)); err != nil {
		return fmt.Errorf("write a prep sheet: %w", err)
	}
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page.Bytes())
	return nil
}

// sheetView is a prep sheet in the site's own time.
type sheetView struct {
	models.PrepSheet
	Name      string
	Day       string
	Published string
	Rows      []sheetLine
}

type sheetLine struct {
	models.Task
	Clock string
}

func newSheetView(sheet models.PrepSheet, site models.Site) sheetView {
	loc := site.Location()
	v := sheetView{PrepSheet: sheet, Name: site.Name, Published: sheet.PublishedAt.In(loc).Format("Mon 2 Jan, 15:04")}
	if v.Name == "" {
		v.Name = site.Code
	}
	day, _ := time.Parse("2006-01-02", string(sheet.Date))
	v.Day = day.Format("Monday 2 January 2006")
	for _, t := range sheet.Tasks {
		at := t.At.In(loc)
		clock := at.Format("15:04")
		if models.DateOf(t.At, loc) != sheet.Date {
			clock = at.Format("Mon 15:04")
		}
		v.Rows = append(v.Rows, sheetLine{t, clock})
	}
	return v
}
