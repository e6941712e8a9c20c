package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// refuseCrossOrigin refuses unsafe requests that a browser sends on behalf of another site, sign-ins included: those have no session
// yet, so no CSRF token protects them. Programs send neither Sec-Fetch-Site nor Origin and pass; so do requests with a bearer token,
// which no browser adds on its own.
func (s *Server) refuseCrossOrigin(c *gin.Context) {
	if c.GetHeader("Authorization") == "" && s.crossOrigin.Check(c.Request) != nil {
		s.writeProblem(c, models.Errorf(models.CodeForbidden, "this request comes from a page of another site; open the page on this service and try again"))
		return
	}
	c.Next()
}
