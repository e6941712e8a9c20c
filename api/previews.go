package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// postPreview computes a plan from a complete request, without reading or writing the store.
func (s *Server) postPreview(c *gin.Context) error {
	var request models.PlanRequest
	if err := decode(c, &request); err != nil {
		return err
	}
	if err := request.Validate(); err != nil {
		return err
	}
	plan, err := s.computePlan(c, request)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, plan)
}
