package api

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// updateSite runs fn in a transaction together with the live event, the entries of the activity log and the queued check for shortages.
// data is the event's data.
func (s *Server) updateSite(c *gin.Context, kind string, data any, notes []note, fn func(ctx context.Context, tx models.Store, setup models.Setup) error) error {
	ctx, site := c.Request.Context(), c.Param("site")
	return s.Store.Within(ctx, func(tx models.Store) error {
		setup, _, err := tx.Setup(ctx, site)
		if err != nil {
			return err
		}
		if err := fn(ctx, tx, setup); err != nil {
			return err
		}
		for _, n := range notes {
			if err := s.audit(c, tx, site, n.action, n.subject); err != nil {
				return err
			}
		}
		if err := s.emit(ctx, tx, site, kind, data); err != nil {
			return err
		}
		return s.queueWatch(ctx, tx, site)
	})
}

// storedRows is the response to a PUT or POST of rows.
type storedRows struct {
	Rows int `json:"rows"`
}

// The default from and to of lists of dates.
const (
	firstDate models.Date = "1900-01-01"
	lastDate  models.Date = "9998-12-31"
)

// listBetween writes the rows between ?from and ?to, in pages by ?limit and ?cursor. also are parameters that the
// caller reads.
func listBetween[T any](s *Server, c *gin.Context, read func(ctx context.Context, site string, from, to time.Time) ([]T, error), also ...string) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, append([]string{"from", "to", "limit", "cursor"}, also...)...)
	from, to := q.time("from", setup.Site.Location(), models.FirstInstant), q.time("to", setup.Site.Location(), models.EndOfInstants)
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := read(ctx, site, from, to)
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}

func writeStored(c *gin.Context, n int) error { return writeJSON(c, http.StatusOK, storedRows{n}) }
