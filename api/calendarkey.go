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

func (s *Server) makeCalendarKey(c *gin.Context, site string) (out newCalendarKey, err error) {
	ctx := c.Request.Context()
	caller, _ := current(c)
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if out.CalendarKey, out.Key, err = tx.PutCalendarKey(ctx, site, caller.Name, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, site, models.DidMakeCalendar, "")
	})
	out.Path = calendarPath(site, out.Key)
	return out, err
}

func (s *Server) deleteCalendarKey(c *gin.Context) error {
	if err := s.endCalendarKey(c, c.Param("site")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) endCalendarKey(c *gin.Context, site string) error {
	ctx := c.Request.Context()
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.DeleteCalendarKey(ctx, site); err != nil {
			return err
		}
		return s.note(c, tx, site, models.DidRevokeCalendar, "")
	})
}

func calendarPath(site, key string) string {
	return "/v1/sites/" + url.PathEscape(site) + "/prep.ics?key=" + url.QueryEscape(key)
}
