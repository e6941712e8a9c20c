package api

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/ical"
)

// newCalendarKey is a new calendar key, the only response that shows it. Path is the feed to subscribe to.
type newCalendarKey struct {
	models.CalendarKey
	Key  string `json:"key"`
	Path string `json:"path"`
}

func (s *Server) getCalendarKey(c *gin.Context) error {
	k, err := s.Store.CalendarKey(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, k)
}

// postCalendarKey creates the site's key and invalidates the previous one.
func (s *Server) postCalendarKey(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	k, err := s.createCalendarKey(c, c.Param("site"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusCreated, k)
}

func (s *Server) createCalendarKey(c *gin.Context, site string) (out newCalendarKey, err error) {
	ctx := c.Request.Context()
	caller, _ := callerToken(c)
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if out.CalendarKey, out.Key, err = tx.PutCalendarKey(ctx, site, caller.Name, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditMakeCalendar, "")
	})
	out.Path = calendarPath(site, out.Key)
	return out, err
}

func (s *Server) deleteCalendarKey(c *gin.Context) error {
	if err := s.removeCalendarKey(c, c.Param("site")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) removeCalendarKey(c *gin.Context, site string) error {
	ctx := c.Request.Context()
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.DeleteCalendarKey(ctx, site); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditRevokeCalendar, "")
	})
}

func calendarPath(site, key string) string {
	return "/v1/sites/" + url.PathEscape(site) + "/prep.ics?key=" + url.QueryEscape(key)
}

// Days of the calendar feed before and after today.
const (
	calendarBack  = 14
	calendarAhead = 31
)

// getCalendar serves the published tasks as a calendar. It is authorised by the site's calendar key, since calendar programs cannot
// send a token.
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
	return writeFile(c, asICS+"; charset=utf-8", "prep.ics", feed, err)
}
