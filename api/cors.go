package api

import (
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
)

const (
	corsMethods = "GET, HEAD, POST, PUT, DELETE"
	corsHeaders = "Authorization, Content-Type, Content-Encoding, Accept-Language, If-Match, If-None-Match, Idempotency-Key, Last-Event-ID, Prefer, X-Request-Id"
	corsExposed = "ETag, Location, Content-Disposition, Content-Language, Deprecation, Hotday-Sandbox, Link, Preference-Applied, RateLimit, RateLimit-Policy, Retry-After, Sunset, X-Request-Id"
	corsMaxAge  = "600" // seconds
)

// allowCrossOrigin lets pages of the origins in Config.CORSOrigins use the API with an access key. It never allows cookies: without
// Access-Control-Allow-Credentials browsers send none, and without an Authorization header nothing is allowed.
func (s *Server) allowCrossOrigin(c *gin.Context) {
	if len(s.CORSOrigins) == 0 || !strings.HasPrefix(c.Request.URL.Path, "/v1/") {
		c.Next()
		return
	}
	h := c.Writer.Header()
	h.Add("Vary", "Origin")
	origin := c.GetHeader("Origin")
	preflight := c.Request.Method == http.MethodOptions && c.GetHeader("Access-Control-Request-Method") != ""
	if !slices.Contains(s.CORSOrigins, origin) || (!preflight && c.GetHeader("Authorization") == "") {
		c.Next()
		return
	}
	h.Set("Access-Control-Allow-Origin", origin)
	if !preflight {
		h.Set("Access-Control-Expose-Headers", corsExposed)
		c.Next()
		return
	}
	h.Set("Access-Control-Allow-Methods", corsMethods)
	h.Set("Access-Control-Allow-Headers", corsHeaders)
	h.Set("Access-Control-Max-Age", corsMaxAge)
	c.Abort()
	_ = noContent(c)
}
