package api

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"
	"github.com/oklog/ulid/v2"

	"hotday/models"
)

// A signed-in browser holds a session whose data are the id of the token that it signed in with, and a CSRF token. Revoking the
// token ends the session.
const (
	sessionCookie   = "hotday_session"
	sessionLifetime = 30 * 24 * time.Hour
	screenLifetime  = 400 * 24 * time.Hour // the longest that browsers keep a cookie
	screenRenewed   = 370 * 24 * time.Hour // with less of it left, a page that a screen loads begins it anew
	sessionToken    = "token"
	sessionCSRF     = "csrf"
	sessionID       = "id"

	csrfHeader = "X-CSRF-Token"
	csrfField  = "csrf"
)

func newSessions(cfg Config) *scs.SessionManager {
	m := scs.New()
	m.Store = sessionStore{cfg.Sessions}
	m.Lifetime = sessionLifetime
	m.Cookie.Name = sessionCookie
	return m
}

// sessionStore gives the session library the shape that it wants.
type sessionStore struct{ models.SessionStore }

func (s sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

func (s sessionStore) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

func (s sessionStore) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }

// signIn starts a session for an access key, which is the secret of a token. A session that the browser had before ends, so
// that nobody can prepare one for somebody else. It returns CodeUnauthorised for an unknown key and CodeTooMany for an address
// that tried many wrong ones.
func (s *Server) signIn(c *gin.Context, accessKey string) error {
	if wait := s.signIns.left(c.ClientIP()); wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return err
	}
	ctx := c.Request.Context()
	t, err := s.Store.TokenBySecret(ctx, accessKey, s.Now())
	if err != nil {
		s.signIns.take(c.ClientIP()) // only wrong keys count
		return err
	}
	return s.startSession(c, t, sessionLifetime)
}

// startSession gives the browser a new session with the right of a token.
func (s *Server) startSession(c *gin.Context, t models.Token, lifetime time.Duration) error {
	ctx := c.Request.Context()
	if old, err := c.Cookie(sessionCookie); err == nil && old != "" {
		if err := s.Sessions.DeleteCtx(ctx, old); err != nil {
			return err
		}
	}
	ctx, err := s.sessions.Load(ctx, "")
	if err != nil {
		return err
	}
	s.sessions.Put(ctx, sessionToken, t.ID)
	s.sessions.Put(ctx, sessionCSRF, rand.Text())
	id := ulid.Make().String()
	s.sessions.Put(ctx, sessionID, id)
	s.sessions.SetDeadline(ctx, s.Now().Add(lifetime))
	secret, _, err := s.sessions.Commit(ctx)
	if err != nil {
		return err
	}
	browser := []rune(c.Request.UserAgent())
	if err := s.Sessions.NameSession(ctx, secret, models.Session{ID: id, Token: t.ID, CreatedAt: s.Now(), Browser: string(browser[:min(len(browser), 200)])}); err != nil {
		return err
	}
	s.setCookie(c, secret, int(lifetime.Seconds()))
	c.Set(tokenKey, t)
	c.Set(csrfKey, s.sessions.GetString(ctx, sessionCSRF))
	c.Set(sessionIDKey, id)
	return nil
}

// signOut ends the session of the request, if there is one.
func (s *Server) signOut(c *gin.Context) error {
	if secret, err := c.Cookie(sessionCookie); err == nil && secret != "" {
		if err := s.Sessions.DeleteCtx(c.Request.Context(), secret); err != nil {
			return err
		}
		s.ended.end(c.GetString(sessionIDKey))
	}
	s.setCookie(c, "", -1)
	return nil
}

func (s *Server) setCookie(c *gin.Context, secret string, maxAge int) {
	http.SetCookie(c.Writer, &http.Cookie{Name: sessionCookie, Value: secret, Path: "/", MaxAge: maxAge,
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: s.SecureCookies})
}

// fromSession finds the token of the request's session; ok is false where there is none, or its token is revoked.
func (s *Server) fromSession(c *gin.Context) (t models.Token, csrf string, ok bool, err error) {
	secret, _ := c.Cookie(sessionCookie) // empty where there is none
	if secret == "" {
		return t, "", false, nil
	}
	ctx, err := s.sessions.Load(c.Request.Context(), secret)
	if err != nil {
		return t, "", false, err
	}
	id := s.sessions.GetString(ctx, sessionToken)
	if id == "" {
		return t, "", false, nil
	}
	c.Set(sessionIDKey, s.sessions.GetString(ctx, sessionID))
	t, err = s.Store.TokenByID(ctx, id)
	if err == nil && t.Kind == models.TokenScreen && t.RevokedAt == nil {
		err = s.renewScreen(ctx, c, secret)
	}
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && t.RevokedAt != nil) {
		return models.Token{}, "", false, nil
	}
	return t, s.sessions.GetString(ctx, sessionCSRF), err == nil, err
}

// renewScreen lets the session of a screen that is in use never end. The secret stays the same: the screen's pages may have
// several requests under way.
func (s *Server) renewScreen(ctx context.Context, c *gin.Context, secret string) error {
	if c.Request.Method != http.MethodGet || s.sessions.Deadline(ctx).Sub(s.Now()) > screenRenewed {
		return nil
	}
	s.sessions.SetDeadline(ctx, s.Now().Add(screenLifetime))
	if _, _, err := s.sessions.Commit(ctx); err != nil {
		return err
	}
	s.setCookie(c, secret, int(screenLifetime.Seconds()))
	return nil
}

// checkCSRF refuses a change made in a session without the session's CSRF token, in the header or, from a form, in the field.
func checkCSRF(c *gin.Context) error {
	switch c.Request.Method {
	case http.MethodGet, http.MethodHead, http.MethodOptions:
		return nil
	}
	want := c.GetString(csrfKey)
	if want == "" {
		return nil // a bearer token: no browser sends it by itself
	}
	given := c.GetHeader(csrfHeader)
	if given == "" && isForm(c) {
		given = c.PostForm(csrfField)
	}
	if subtle.ConstantTimeCompare([]byte(given), []byte(want)) != 1 {
		return models.Errorf(models.CodeForbidden, "a change made in a session needs the session's CSRF token in the header %s", csrfHeader)
	}
	return nil
}
