package api

import "github.com/gin-gonic/gin"

// policy lets pages load only what this service serves, and no inline script or style: what an attacker might get into a page
// as text can then do nothing.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) secured(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	if s.SecureCookies {
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
	c.Next()
}
