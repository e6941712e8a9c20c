package api

import (
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// getWork lists the site's long-running jobs with their progress, and the last ordered plan if it failed.
func (s *Server) getWork(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.workInProgress(c)
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}

// workInProgress leaves out jobs that have stopped reporting, unless they failed.
func (s *Server) workInProgress(c *gin.Context) ([]models.Progress, error) {
	list, err := s.Store.Progress(c.Request.Context(), c.Param("site"))
	return slices.DeleteFunc(list, func(p models.Progress) bool { return !p.Alive(s.Now()) && p.Problem == "" }), err
}

// deleteWork asks a job to stop. It stops at its next step without storing anything.
func (s *Server) deleteWork(c *gin.Context) error {
	if err := s.stopWork(c, c.Param("kind")); err != nil {
		return err
	}
	return noContent(c)
}

// stopWork asks a job of the request's site to stop; pages use it too.
func (s *Server) stopWork(c *gin.Context, kind string) error {
	ctx, site := c.Request.Context(), c.Param("site")
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.StopWork(ctx, site, kind); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditStopWork, kind)
	})
}
