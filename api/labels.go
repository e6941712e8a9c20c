package api

import (
	"github.com/gin-gonic/gin"

	"hotday/planner/paper"
)

const maxCopies = 20

// getLabels serves labels for the batches that become ready on a day.
func (s *Server) getLabels(c *gin.Context) error {
	q := params(c, "label", "copies")
	name := "62x29"
	if raw := q.text("label"); raw != "" {
		name = raw
	}
	label, known := paper.LabelNamed(name)
	if !known {
		q.malformed("label", paper.LabelFormats, name+" is not a label size")
	}
	copies := q.integer("copies", 1, 1, maxCopies)
	if err := q.err(); err != nil {
		return err
	}
	if _, ok := negotiate(c.Request.Header.Values("Accept"), asPDF); !ok {
		return notAcceptable(asPDF)
	}
	sheet, err := s.sheetAt(c)
	if err != nil {
		return err
	}
	setup, _, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	pdf, err := paper.Labels(setup, sheet, label, copies)
	return writeFile(c, asPDF, "labels-"+string(sheet.Date)+".pdf", pdf, err)
}
