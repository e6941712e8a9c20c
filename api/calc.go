package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/planner/calc"
)

// postCalc runs one calculation, like `hotday calc`.
func (s *Server) postCalc(c *gin.Context) error {
	data, err := readJSON(c)
	if err != nil {
		return err
	}
	done, err := s.computeSlot(c.Request.Context())
	if err != nil {
		return err
	}
	defer done()
	out, err := calc.Run(c.Request.Context(), c.Param("kind"), data)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}
