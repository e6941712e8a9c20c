package api

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// newCalendarKey is a calendar key that was just made; it is shown this once. Path is what a calendar program subscribes to.
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
	return answer(c, http.StatusOK, k)
}

// postCalendarKey makes the site's key, in place of any before.
func (s *Server) postCalendarKey(c *gin.Context) error {
	if err := noFields(c); err != nil {
		return err
	}
	k, err := s.makeCalendarKey(c, c.Param("site"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusCreated, k)
}

func (s *Server) makeCalendarKey(c *gin.Context, site string) (newCalendarKey, error) {
	caller, _ := current(c)
	k, key, err := s.Store.PutCalendarKey(c.Request.Context(), site, caller.Name, s.Now())
	return newCalendarKey{k, key, calendarPath(site, key)}, err
}

func (s *Server) deleteCalendarKey(c *gin.Context) error {
	if err := s.Store.DeleteCalendarKey(c.Request.Context(), c.Param("site")); err != nil {
		return err
	}
	return noContent(c)
}

func calendarPath(site, key string) string {
	return "/v1/sites/" + url.PathEscape(site) + "/prep.ics?key=" + url.QueryEscape(key)
}
