package api

import (
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// getWork lists the jobs of a site that take a while and how far they are.
func (s *Server) getWork(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.work(c)
	if err != nil {
		return err
	}
	return answerPart(c, rows, p)
}

// work is what seems to be under way.
func (s *Server) work(c *gin.Context) ([]models.Progress, error) {
	list, err := s.Store.Progress(c.Request.Context(), c.Param("site"))
	return slices.DeleteFunc(list, func(p models.Progress) bool { return !p.Alive(s.Now()) }), err
}

// deleteWork asks a job to stop; it does so at its next step and leaves everything as it was.
func (s *Server) deleteWork(c *gin.Context) error {
	if err := s.Store.StopWork(c.Request.Context(), c.Param("site"), c.Param("kind")); err != nil {
		return err
	}
	return noContent(c)
}
