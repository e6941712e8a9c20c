package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/calc"
)

// postPreview computes the plan of a whole request; nothing is read from the store or kept in it.
func (s *Server) postPreview(c *gin.Context) error {
	var request models.PlanRequest
	if err := decode(c, &request); err != nil {
		return err
	}
	if err := request.Validate(); err != nil {
		return err
	}
	plan, err := s.computed(c.Request.Context(), request)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, plan)
}

// postCalc answers one calculation, the same as `hotday calc`.
func (s *Server) postCalc(c *gin.Context) error {
	data, err := readJSON(c)
	if err != nil {
		return err
	}
	done, err := s.room(c.Request.Context())
	if err != nil {
		return err
	}
	defer done()
	out, err := calc.Run(c.Request.Context(), c.Param("kind"), data)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}
