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

// A session holds the ID of the token that it acts for and a CSRF token. Revoking the token ends the session.
const (
	sessionCookie    = "hotday_session"
	hostPrefix       = "__Host-" // of cookies over HTTPS: browsers accept them from this host alone
	sessionLifetime  = 30 * 24 * time.Hour
	screenLifetime   = 400 * 24 * time.Hour // browsers cap cookies at 400 days
	screenRenewBelow = 370 * 24 * time.Hour // a GET with less than this left renews the session
	sessionTokenKey  = "token"
	sessionCSRFKey   = "csrf"
	sessionIDField   = "id"

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

// sessionStore adapts models.SessionStore to scs.
type sessionStore struct{ models.SessionStore }

func (s sessionStore) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

func (s sessionStore) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

func (s sessionStore) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }

// signInWithKey starts a session for an access key, which is the secret of a token. It returns CodeUnauthorised for an unknown key and
// CodeTooMany after too many wrong ones from the address.
func (s *Server) signInWithKey(c *gin.Context, accessKey string) error {
	if err := s.rateLimit(c, s.signIns, s.limitKey(c)); err != nil {
		return err
	}
	t, err := s.Store.TokenBySecret(c.Request.Context(), accessKey, s.Now())
	if models.CodeOf(err) == models.CodeUnauthorised {
		s.auditFailedSignIn(c, "")
		return err
	}
	s.signIns.giveBack(s.limitKey(c)) // only wrong keys count
	if err != nil {
		return err
	}
	return s.signIn(c, t)
}

// signIn starts a session and records it.
func (s *Server) signIn(c *gin.Context, t models.Token) error {
	if err := s.startSession(c, t, sessionLifetime); err != nil {
		return err
	}
	return s.audit(c, s.Store, t.Site, models.AuditSignIn, s.address(c))
}

// startSession starts a session for a token and ends the browser's previous one, against session fixation.
func (s *Server) startSession(c *gin.Context, t models.Token, lifetime time.Duration) error {
	ctx := c.Request.Context()
	if old := s.sessionSecret(c); old != "" {
		if err := s.Sessions.DeleteCtx(ctx, old); err != nil {
			return err
		}
	}
	ctx, err := s.sessions.Load(ctx, "")
	if err != nil {
		return err
	}
	s.sessions.Put(ctx, sessionTokenKey, t.ID)
	s.sessions.Put(ctx, sessionCSRFKey, rand.Text())
	id := ulid.Make().String()
	s.sessions.Put(ctx, sessionIDField, id)
	s.sessions.SetDeadline(ctx, s.Now().Add(lifetime))
	secret, _, err := s.sessions.Commit(ctx)
	if err != nil {
		return err
	}
	browser := []rune(c.Request.UserAgent())
	if err := s.Sessions.NameSession(ctx, secret, models.Session{ID: id, Token: t.ID, CreatedAt: s.Now(), Browser: string(browser[:min(len(browser), 200)]), Address: s.address(c)}); err != nil {
		return err
	}
	s.setCookie(c, secret, int(lifetime.Seconds()))
	c.Set(tokenKey, t)
	c.Set(csrfKey, s.sessions.GetString(ctx, sessionCSRFKey))
	c.Set(sessionIDKey, id)
	return nil
}

// signOut ends the request's session, if there is one.
func (s *Server) signOut(c *gin.Context) error {
	if secret := s.sessionSecret(c); secret != "" {
		if err := s.Sessions.DeleteCtx(c.Request.Context(), secret); err != nil {
			return err
		}
		s.endStreams(c.Request.Context(), c.GetString(sessionIDKey))
		if t, ok := callerToken(c); ok && c.GetString(sessionIDKey) != "" {
			if err := s.audit(c, s.Store, t.Site, models.AuditSignOut, s.address(c)); err != nil {
				return err
			}
		}
	}
	s.setCookie(c, "", -1)
	return nil
}

func (s *Server) setCookie(c *gin.Context, secret string, maxAge int) {
	http.SetCookie(c.Writer, &http.Cookie{Name: s.cookieName(c, sessionCookie), Value: secret, Path: "/", MaxAge: maxAge,
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: s.clientOf(c).https})
}

// cookieName is a cookie's name on the way that the browser has taken.
func (s *Server) cookieName(c *gin.Context, name string) string {
	if s.clientOf(c).https {
		return hostPrefix + name
	}
	return name
}

// sessionSecret returns the session's secret from the request's cookie, "" if there is none.
func (s *Server) sessionSecret(c *gin.Context) string {
	secret, _ := c.Cookie(s.cookieName(c, sessionCookie)) // empty if there is none
	return secret
}

// sessionToken returns the token of the request's session; ok is false if there is no session or its token is revoked.
func (s *Server) sessionToken(c *gin.Context) (t models.Token, csrf string, ok bool, err error) {
	secret, earlier := s.sessionSecret(c), false
	if secret == "" {
		secret, _ = c.Cookie(sessionCookie) // as earlier versions named it over HTTPS too
		earlier = true
	}
	if secret == "" {
		return t, "", false, nil
	}
	ctx, err := s.sessions.Load(c.Request.Context(), secret)
	if err != nil {
		return t, "", false, err
	}
	id := s.sessions.GetString(ctx, sessionTokenKey)
	if id == "" {
		return t, "", false, nil
	}
	c.Set(sessionIDKey, s.sessions.GetString(ctx, sessionIDField))
	t, err = s.Store.TokenByID(ctx, id)
	if err == nil && earlier && t.Kind != models.TokenScreen {
		return models.Token{}, "", false, nil // people sign in again; screens stay paired
	}
	if err == nil && t.Kind == models.TokenScreen && t.RevokedAt == nil {
		err = s.renewScreenSession(ctx, c, secret, earlier)
	}
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && t.RevokedAt != nil) {
		return models.Token{}, "", false, nil
	}
	return t, s.sessions.GetString(ctx, sessionCSRFKey), err == nil, err
}

// renewScreenSession keeps the session of a screen in use from expiring. The secret stays the same, since the screen may have several
// requests in flight. renamed: the cookie gets its present name.
func (s *Server) renewScreenSession(ctx context.Context, c *gin.Context, secret string, renamed bool) error {
	if c.Request.Method != http.MethodGet || (!renamed && s.sessions.Deadline(ctx).Sub(s.Now()) > screenRenewBelow) {
		return nil
	}
	s.sessions.SetDeadline(ctx, s.Now().Add(screenLifetime))
	if _, _, err := s.sessions.Commit(ctx); err != nil {
		if models.CodeOf(err) == models.CodeStorage {
			return nil // the screen goes on; there is time to renew it later
		}
		return err
	}
	s.setCookie(c, secret, int(screenLifetime.Seconds()))
	return nil
}

// checkCSRF requires the session's CSRF token, in the header or in a form field, on every change made in a session.
func checkCSRF(c *gin.Context) error {
	if isSafe(c.Request.Method) {
		return nil
	}
	want := c.GetString(csrfKey)
	if want == "" {
		return nil // a bearer token, which browsers do not send on their own
	}
	given := c.GetHeader(csrfHeader)
	if given == "" && takesForm(c) {
		given = c.PostForm(csrfField)
	}
	if subtle.ConstantTimeCompare([]byte(given), []byte(want)) != 1 {
		return models.Errorf(models.CodeForbidden, "changes made in a session need its CSRF token in the header %s", csrfHeader)
	}
	return nil
}

func isSafe(method string) bool {
	return method == http.MethodGet || method == http.MethodHead || method == http.MethodOptions
}
