package api

import (
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Keys of the gin context.
const (
	tokenKey = "hotday.token"
	csrfKey  = "hotday.csrf"

	sessionIDKey = "hotday.session" // empty for a bearer token
)

// current returns the token of the request; ok is false where nobody is signed in.
func current(c *gin.Context) (models.Token, bool) {
	v, ok := c.Get(tokenKey)
	if !ok {
		return models.Token{}, false
	}
	t, ok := v.(models.Token)
	return t, ok
}

// identified finds who is asking: a bearer token, else a session. A wrong bearer token is refused even where none is needed,
// so that a mistyped one is not taken for none.
func (s *Server) identified(c *gin.Context) {
	if header := c.GetHeader("Authorization"); header != "" {
		scheme, secret, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") {
			s.fail(c, models.Errorf(models.CodeUnauthorised, "send the token as Authorization: Bearer …"))
			return
		}
		t, err := s.Store.TokenBySecret(c.Request.Context(), strings.TrimSpace(secret), s.Now())
		if err != nil {
			s.fail(c, err)
			return
		}
		s.present(c, t, s.Now())
		c.Set(tokenKey, t)
		c.Next()
		return
	}
	t, csrf, ok, err := s.fromSession(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	if ok {
		s.present(c, t, s.Now())
		c.Set(tokenKey, t)
		c.Set(csrfKey, csrf)
	}
	c.Next()
}

// allow holds a route's rule against the token of the request. Another's site is answered as one that does not exist, so that
// nobody learns of it.
func (s *Server) allow(c *gin.Context, r route) error {
	if r.open() {
		return nil
	}
	t, ok := current(c)
	if !ok {
		return models.Errorf(models.CodeUnauthorised, "nobody is signed in; send a token as Authorization: Bearer …")
	}
	if wait := s.limits.take(t.ID); wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return err
	}
	at := t.Site // routes of no site: the token's own
	if r.of == bySite {
		at = c.Param("site")
		if t.Site != "" && t.Site != at {
			return noSite(at)
		}
	}
	for _, scope := range r.scopes {
		if t.May(scope, at) {
			return nil
		}
	}
	return models.Errorf(models.CodeForbidden, "this needs the scope %s; the token has %s", strings.Join(r.scopes, " or "), strings.Join(t.Scopes, ", "))
}

// noSite reads as the store's own answer does, so that another's site cannot be told from none.
func noSite(site string) error {
	return models.Errorf(models.CodeNotFound, "there is no site %q: set the shop up first", site)
}
