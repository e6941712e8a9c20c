package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/planner/calc"
	"hotday/planner/say"
)

// postCalc runs one calculation, like `hotday calc`. Its sentences are in the language of the request.
func (s *Server) postCalc(c *gin.Context) error {
	data, err := readJSON(c)
	if err != nil {
		return err
	}
	done, err := s.Cores.ForPeople(c.Request.Context())
	if err != nil {
		return err
	}
	defer done()
	v := say.In(c.GetHeader("Accept-Language"))
	out, err := calc.Run(c.Request.Context(), v, c.Param("kind"), data)
	if err != nil {
		return err
	}
	c.Writer.Header().Add("Vary", "Accept-Language")
	c.Header("Content-Language", v.Language())
	return writeJSON(c, http.StatusOK, out)
}
