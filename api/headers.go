package api

import "github.com/gin-gonic/gin"

// contentSecurityPolicy lets pages load from this service only, without inline scripts or styles, so that injected markup cannot run
// code.
const contentSecurityPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; object-src 'none'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) securityHeaders(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", contentSecurityPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	if s.clientOf(c).https {
		h.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
	c.Next()
}
