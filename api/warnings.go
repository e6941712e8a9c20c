package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

func (s *Server) getWarnings(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.OpenWarnings(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}

// postAck acknowledges a warning. It stays open until its cause is gone.
func (s *Server) postAck(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	token, _ := callerToken(c)
	by := token.Name
	if by == "" {
		by = token.ID
	}
	var out models.OpenWarning
	err := s.Store.Within(ctx, func(tx models.Store) (err error) {
		if out, err = tx.AckWarning(ctx, site, c.Param("id"), by, s.Now()); err != nil {
			return err
		}
		if err := s.audit(c, tx, site, models.AuditAck, out.Kind); err != nil {
			return err
		}
		return s.emit(ctx, tx, site, liveWarning, map[string]any{"id": out.ID, "acked_by": out.AckedBy})
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}
