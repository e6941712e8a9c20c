package api

import (
	"mime"
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/ical"
	"hotday/planner/paper"
)

// formNames are what a link asks for where it cannot send an Accept header: "?as=pdf".
var formNames = map[string]string{"json": asJSON, "html": asHTML, "pdf": asPDF}

// form picks the form of an answer: by the parameter "as", or else by Accept. err is that none of those offered is wanted.
func (q *query) form(offered ...string) (form string, err error) {
	q.c.Header("Vary", "Accept")
	possible, names := "", ""
	for _, o := range offered {
		for name, f := range formNames {
			if f == o {
				possible, names = possible+", "+o, names+", "+name
			}
		}
	}
	if raw := q.c.Query("as"); raw != "" {
		for _, o := range offered {
			if formNames[raw] == o {
				return o, nil
			}
		}
		q.unreadable("as", "one of "+names[2:], raw+" is no form of this")
		return "", nil
	}
	form, ok := preferred(q.c.Request.Header.Values("Accept"), offered...)
	if !ok {
		return "", notAcceptable(possible[2:])
	}
	return form, nil
}

// paper reads the size of paper, "a4" or "letter"; what is not said follows from the reader's language.
func (q *query) paper() paper.Size {
	raw := q.c.Query("paper")
	if raw == "" {
		q.c.Writer.Header().Add("Vary", "Accept-Language")
		return paper.SizeFor(q.c.GetHeader("Accept-Language"))
	}
	size, ok := paper.SizeNamed(raw)
	if !ok {
		q.unreadable("paper", "a4 or letter", raw+" is neither")
	}
	return size
}

// sheetAt reads the sheet whose date stands in the address.
func (s *Server) sheetAt(c *gin.Context) (models.PrepSheet, error) {
	var date models.Date
	if date.UnmarshalText([]byte(c.Param("date"))) != nil {
		return models.PrepSheet{}, models.Errorf(models.CodeNotFound, "%q is no date such as 2026-07-11", c.Param("date"))
	}
	return s.Store.Sheet(c.Request.Context(), c.Param("site"), date)
}

// answerFile sends a document that a browser shows, and saves under a name. err is that it could not be written.
func answerFile(c *gin.Context, form, name string, file []byte, err error) error {
	if err != nil {
		return err
	}
	c.Header("Content-Disposition", mime.FormatMediaType("inline", map[string]string{"filename": name}))
	c.Data(http.StatusOK, form, file)
	return nil
}

const maxCopies = 20

// getLabels answers the labels of the batches that get ready on a day.
func (s *Server) getLabels(c *gin.Context) error {
	q := params(c, "label", "copies")
	name := "62x29"
	if raw := q.text("label"); raw != "" {
		name = raw
	}
	label, known := paper.LabelNamed(name)
	if !known {
		q.unreadable("label", paper.LabelFormats, name+" is no label")
	}
	copies := q.whole("copies", 1, 1, maxCopies)
	if err := q.err(); err != nil {
		return err
	}
	if _, ok := preferred(c.Request.Header.Values("Accept"), asPDF); !ok {
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
	return answerFile(c, asPDF, "labels-"+string(sheet.Date)+".pdf", pdf, err)
}

// The days around today that the calendar shows.
const (
	calendarBack  = 14
	calendarAhead = 31
)

// getCalendar answers the tasks of the published sheets as a calendar, to whoever has the site's key: calendar programs can send
// no token.
func (s *Server) getCalendar(c *gin.Context) error {
	q := params(c, "key")
	if err := q.err(); err != nil {
		return err
	}
	ctx, code := c.Request.Context(), c.Param("site")
	if err := s.Store.CheckCalendarKey(ctx, code, q.text("key"), s.Now()); err != nil {
		return err
	}
	setup, _, err := s.Store.Setup(ctx, code)
	if err != nil {
		return err
	}
	today := models.DateOf(s.Now(), setup.Site.Location())
	from, to := today.AddDays(-calendarBack), today.AddDays(calendarAhead)
	sheets, err := s.Store.Sheets(ctx, code, from, to)
	if err != nil {
		return err
	}
	dropped, err := s.Store.DroppedTasks(ctx, code, from, to)
	if err != nil {
		return err
	}
	feed, err := ical.Feed(setup.Site, sheets, dropped)
	return answerFile(c, asICS+"; charset=utf-8", "prep.ics", feed, err)
}
