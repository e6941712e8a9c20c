package api

import (
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Keys of the gin context.
const (
	tokenKey = "hotday.token"
	csrfKey  = "hotday.csrf"

	sessionIDKey = "hotday.session" // not set for a bearer token
)

// callerToken returns the request's token; ok is false if the request is not authenticated.
func callerToken(c *gin.Context) (models.Token, bool) {
	v, ok := c.Get(tokenKey)
	if !ok {
		return models.Token{}, false
	}
	t, ok := v.(models.Token)
	return t, ok
}

// authenticate accepts a bearer token, else a session. An invalid bearer token is refused even on public routes, so that a mistyped
// one is noticed.
func (s *Server) authenticate(c *gin.Context) {
	if header := c.GetHeader("Authorization"); header != "" {
		scheme, secret, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") {
			s.writeProblem(c, models.Errorf(models.CodeUnauthorised, "send the token as \"Authorization: Bearer TOKEN\""))
			return
		}
		t, err := s.Store.TokenBySecret(c.Request.Context(), strings.TrimSpace(secret), s.Now())
		if err != nil {
			s.writeProblem(c, err)
			return
		}
		s.setCaller(c, t)
		c.Next()
		return
	}
	t, csrf, ok, err := s.sessionToken(c)
	if err != nil {
		s.writeProblem(c, err)
		return
	}
	if ok {
		s.setCaller(c, t)
		c.Set(csrfKey, csrf)
	}
	c.Next()
}

func (s *Server) setCaller(c *gin.Context, t models.Token) {
	s.recordSeen(c, t, s.Now())
	c.Set(tokenKey, t)
	if t.Sandbox {
		enterSandbox(c)
	}
}

// authorise checks the request's token against the route: rate limit, site, scopes. A site out of reach gives the same 404 as one
// that does not exist, so that site codes cannot be probed.
func (s *Server) authorise(c *gin.Context, r route) error {
	if r.open() {
		return nil
	}
	t, ok := callerToken(c)
	if !ok {
		return models.Errorf(models.CodeUnauthorised, "no token; send one as \"Authorization: Bearer TOKEN\"")
	}
	wait := s.limits.take(t.ID)
	s.tellLimit(c, t.ID, wait)
	if wait > 0 {
		return tooManyRequests(c, wait)
	}
	if at := c.Param("site"); r.site == pathSite && !t.Covers(at) {
		return siteNotFound(at)
	}
	if slices.ContainsFunc(r.scopes, t.Has) {
		return nil
	}
	return models.Errorf(models.CodeForbidden, "this needs scope %s; the token has %s", strings.Join(r.scopes, " or "), strings.Join(t.Scopes, ", "))
}

// siteNotFound has the same text as the store's error for an unknown site, so that the two cannot be told apart.
func siteNotFound(site string) error {
	return models.Errorf(models.CodeNotFound, "there is no site %q: set the shop up first", site)
}
