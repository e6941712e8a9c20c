package api

import (
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Pairing a screen: the screen requests a pairing and shows its code; a manager enters the code; the screen polls its claim every few
// seconds and gets a session if it is a browser, or a token if it is another program.

// pairingResponse goes to the new screen only: it shows the code and keeps the secret for its claims.
type pairingResponse struct {
	models.Pairing
	Secret string `json:"secret"` // needed to claim the pairing; shown only in this response
}

// postPairing starts a pairing. It is public.
func (s *Server) postPairing(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	if err := s.rateLimit(c, s.pairings, s.limitKey(c)); err != nil {
		return err
	}
	p, secret, err := s.Store.BeginPairing(c.Request.Context(), s.Now())
	if err != nil {
		if models.CodeOf(err) == models.CodeTooMany {
			setRetryAfter(c, models.PairingTime)
		}
		return err
	}
	return writeJSON(c, http.StatusCreated, pairingResponse{p, secret})
}

// rateLimit takes a token for key from l, or returns a CodeTooMany error and sets Retry-After.
func (s *Server) rateLimit(c *gin.Context, l *limiter, key string) error {
	if wait := l.take(key); wait > 0 {
		return tooManyRequests(c, wait)
	}
	return nil
}

// claimBody claims a pairing. Right is "session" for a browser's cookie, or "token".
type claimBody struct {
	Secret string `json:"secret" validate:"min=1,max=200"` // of the pairing
	Right  string `json:"right" default:"session" validate:"oneof=session token"`
}

// claimResponse is the state of a pairing. Secret is the token, if the screen claimed one; no other response shows it.
type claimResponse struct {
	State  string         `json:"state"` // waiting, paired
	Screen *models.Screen `json:"screen"`
	Secret string         `json:"secret,omitempty"`
}

func (s *Server) postClaim(c *gin.Context) error {
	if err := s.rateLimit(c, s.claims, s.limitKey(c)); err != nil {
		return err
	}
	var body claimBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	ctx := c.Request.Context()
	screen, secret, paired, err := s.Store.ClaimPairing(ctx, c.Param("id"), body.Secret, body.Right == "token", s.Now())
	if err != nil {
		return err
	}
	if !paired {
		return writeJSON(c, http.StatusOK, claimResponse{State: "waiting"})
	}
	if body.Right == "session" {
		t, err := s.Store.TokenByID(ctx, screen.ID)
		if err != nil {
			return err
		}
		if err := s.startSession(c, t, screenLifetime); err != nil {
			return err
		}
	}
	return writeJSON(c, http.StatusOK, claimResponse{State: "paired", Screen: &screen, Secret: secret})
}

// screenBody pairs the screen that shows the code. Site null or left out: the caller's own.
type screenBody struct {
	Code     string   `json:"code" validate:"min=1,max=40"`
	Name     string   `json:"name" validate:"min=1,max=100,name"`
	Site     *string  `json:"site"`
	Stations []string `json:"stations" validate:"max=100,dive,min=1,max=60,name"`
}

func (s *Server) postScreen(c *gin.Context) error {
	var body screenBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	stored, err := s.pairScreen(c, body.Code, models.Screen{Name: body.Name, Site: siteOrOwn(body.Site, caller), Stations: body.Stations})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/screens/"+stored.ID)
	return writeJSON(c, http.StatusCreated, stored)
}

func siteOrOwn(asked *string, caller models.Token) string {
	if asked != nil {
		return *asked
	}
	return caller.Site
}

// pairScreen pairs a screen within the caller's reach and limits the rate of wrong codes; pages use it too.
func (s *Server) pairScreen(c *gin.Context, typed string, screen models.Screen) (models.Screen, error) {
	caller, _ := callerToken(c)
	ctx := c.Request.Context()
	if err := s.checkSiteInReach(ctx, caller, screen.Site, "a screen belongs to one site"); err != nil {
		return models.Screen{}, err
	}
	if wait := s.codes.wait(caller.ID); wait > 0 {
		return models.Screen{}, tooManyRequests(c, wait)
	}
	const shown = "the six letters and digits on the screen"
	code, ok := models.PairingCode(typed)
	if !ok {
		return models.Screen{}, models.Invalid("/code", shown, "this is not a pairing code")
	}
	if err := checkName(screen.Name, 100); err != nil {
		return models.Screen{}, err
	}
	screen.PairedBy = caller.Name
	var stored models.Screen
	err := s.Store.Within(ctx, func(tx models.Store) error {
		all, err := tx.Screens(ctx)
		if err := roomFor(s.Most.Screens, "screens", screen.Site, all, err, func(x models.Screen) (string, bool) { return x.Site, x.RevokedAt == nil }); err != nil {
			return err
		}
		if stored, err = tx.PairScreen(ctx, code, screen, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, screen.Site, models.AuditPairScreen, screen.Name)
	})
	if models.CodeOf(err) == models.CodeNotFound {
		s.codes.take(caller.ID) // only wrong codes count
		return models.Screen{}, models.Invalid("/code", shown, "%s", err.Error())
	}
	return stored, err
}

func (s *Server) getScreens(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	all, err := s.Store.Screens(c.Request.Context())
	if err != nil {
		return err
	}
	caller, _ := callerToken(c)
	return writePage(c, slices.DeleteFunc(all, func(x models.Screen) bool { return x.RevokedAt != nil || !reachesSite(caller, x.Site) }), p)
}

// screenChange is the body of PUT screens: the name and the stations to show.
type screenChange struct {
	Name     string   `json:"name" validate:"min=1,max=100,name"`
	Stations []string `json:"stations" validate:"max=100,dive,min=1,max=60,name"`
}

func (s *Server) putScreen(c *gin.Context) error {
	var body screenChange
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	stored, err := s.changeScreen(c, models.Screen{ID: c.Param("id"), Name: body.Name, Stations: body.Stations})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, stored)
}

// screenInReach returns a screen that is not revoked, of a site that the caller reaches, else CodeNotFound.
func (s *Server) screenInReach(c *gin.Context, id string) (models.Screen, error) {
	screen, err := s.Store.Screen(c.Request.Context(), id)
	if caller, _ := callerToken(c); err == nil && (!reachesSite(caller, screen.Site) || screen.RevokedAt != nil) {
		err = models.Errorf(models.CodeNotFound, "there is no screen %q", id)
	}
	return screen, err
}

// changeScreen also emits an event that makes the screen reload.
func (s *Server) changeScreen(c *gin.Context, screen models.Screen) (stored models.Screen, err error) {
	ctx := c.Request.Context()
	before, err := s.screenInReach(c, screen.ID)
	if err == nil {
		err = checkName(screen.Name, 100)
	}
	if err != nil {
		return stored, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if stored, err = tx.ChangeScreen(ctx, screen); err != nil {
			return err
		}
		if err := s.emit(ctx, tx, before.Site, liveSetup, map[string]any{"screen": screen.ID}); err != nil {
			return err
		}
		return s.audit(c, tx, before.Site, models.AuditChangeScreen, screen.Name)
	})
	return stored, err
}

func (s *Server) deleteScreen(c *gin.Context) error {
	if err := s.revokeScreen(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

// revokeScreen revokes the screen's token, which ends its sessions, and closes its open streams.
func (s *Server) revokeScreen(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	screen, err := s.screenInReach(c, id)
	if err != nil {
		return err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RevokeToken(ctx, id, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, screen.Site, models.AuditRevokeScreen, screen.Name)
	})
	if err == nil {
		s.endStreams(ctx, id)
	}
	return err
}

// recordSeen updates when a screen was last seen. A failure is only logged, so that the screen keeps working.
func (s *Server) recordSeen(c *gin.Context, t models.Token, at time.Time) {
	if t.Kind != models.TokenScreen {
		return
	}
	if err := s.Store.TouchScreen(c.Request.Context(), t.ID, at); err != nil && c.Request.Context().Err() == nil {
		s.Log.WarnContext(c.Request.Context(), "could not record a screen as seen", "error", err)
	}
}
