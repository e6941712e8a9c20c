package api

import (
	"context"
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
	run := s.computeQuickly
	if calc.Slow(c.Param("kind")) {
		run = s.compute
	}
	v := say.In(c.GetHeader("Accept-Language"))
	var out any
	err = run(c, func(ctx context.Context) (err error) {
		out, err = calc.Run(ctx, v, c.Param("kind"), data)
		return err
	})
	if err != nil {
		return err
	}
	c.Writer.Header().Add("Vary", "Accept-Language")
	c.Header("Content-Language", v.Language())
	return writeJSON(c, http.StatusOK, out)
}
