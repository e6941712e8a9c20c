package api

import (
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// A new screen asks for a pairing and shows its code; a manager types the code in; the screen, which asks again every few
// seconds, then gets a right of its own: a session where it is a browser, a token where it is another program.

// pairingAnswer is what a new screen is told, once: it shows the code and keeps the secret to itself.
type pairingAnswer struct {
	models.Pairing
	Secret string `json:"secret"`
}

// postPairing begins a pairing, for anybody.
func (s *Server) postPairing(c *gin.Context) error {
	if err := noFields(c); err != nil {
		return err
	}
	if err := s.slowDown(c, s.pairings, c.ClientIP()); err != nil {
		return err
	}
	p, secret, err := s.Store.BeginPairing(c.Request.Context(), s.Now())
	if err != nil {
		if models.CodeOf(err) == models.CodeTooMany {
			setRetryAfter(c, int(models.PairingTime.Seconds()))
		}
		return err
	}
	return answer(c, http.StatusCreated, pairingAnswer{p, secret})
}

// slowDown takes one of what a key may do, or refuses.
func (s *Server) slowDown(c *gin.Context, l *limiter, key string) error {
	if wait := l.take(key); wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return err
	}
	return nil
}

// claimBody asks whether a pairing is done. Right is what the screen wants: a session (the cookie of a browser) or a token.
type claimBody struct {
	Secret string `json:"secret" validate:"min=1,max=200"`
	Right  string `json:"right" default:"session" validate:"oneof=session token"`
}

// claimAnswer says how a pairing stands. Secret is the token of a screen that asked for one, shown this once.
type claimAnswer struct {
	State  string         `json:"state"` // waiting, paired
	Screen *models.Screen `json:"screen"`
	Secret string         `json:"secret,omitempty"`
}

func (s *Server) postClaim(c *gin.Context) error {
	if err := s.slowDown(c, s.claims, c.ClientIP()); err != nil {
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
		return answer(c, http.StatusOK, claimAnswer{State: "waiting"})
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
	return answer(c, http.StatusOK, claimAnswer{State: "paired", Screen: &screen, Secret: secret})
}

// screenBody pairs the screen that shows a code. Site null or left out: that of the caller's token.
type screenBody struct {
	Code     string   `json:"code" validate:"min=1,max=40"`
	Name     string   `json:"name" validate:"min=1,max=100"`
	Site     *string  `json:"site"`
	Stations []string `json:"stations" validate:"max=100,dive,min=1,max=60"`
}

func (s *Server) postScreen(c *gin.Context) error {
	var body screenBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := current(c)
	kept, err := s.pairScreen(c, body.Code, models.Screen{Name: body.Name, Site: siteOf(body.Site, caller), Stations: body.Stations})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/screens/"+kept.ID)
	return answer(c, http.StatusCreated, kept)
}

func siteOf(asked *string, caller models.Token) string {
	if asked != nil {
		return *asked
	}
	return caller.Site
}

// pairScreen holds the caller's reach and the rate of wrong codes against a code; pages pair by it too.
func (s *Server) pairScreen(c *gin.Context, typed string, screen models.Screen) (models.Screen, error) {
	caller, _ := current(c)
	ctx := c.Request.Context()
	if err := s.siteWithin(ctx, caller, screen.Site, "a screen is of one site"); err != nil {
		return models.Screen{}, err
	}
	if wait := s.codes.left(caller.ID); wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return models.Screen{}, err
	}
	const shown = "the six letters and digits that the screen shows now"
	code, ok := models.PairingCode(typed)
	if !ok {
		return models.Screen{}, models.Invalid("/code", shown, "no screen can show this code")
	}
	if err := goodName(screen.Name, 100); err != nil {
		return models.Screen{}, err
	}
	screen.PairedBy = caller.Name
	var kept models.Screen
	err := s.Store.Within(ctx, func(tx models.Store) (err error) {
		if kept, err = tx.PairScreen(ctx, code, screen, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, screen.Site, models.DidPairScreen, screen.Name)
	})
	if models.CodeOf(err) == models.CodeNotFound {
		s.codes.take(caller.ID) // only wrong codes count
		return models.Screen{}, models.Invalid("/code", shown, "%s", err.Error())
	}
	return kept, err
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
	caller, _ := current(c)
	return answerPart(c, slices.DeleteFunc(all, func(x models.Screen) bool { return x.RevokedAt != nil || !reachesSite(caller, x.Site) }), p)
}

// screenChange is what a screen is called and shows.
type screenChange struct {
	Name     string   `json:"name" validate:"min=1,max=100"`
	Stations []string `json:"stations" validate:"max=100,dive,min=1,max=60"`
}

func (s *Server) putScreen(c *gin.Context) error {
	var body screenChange
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	kept, err := s.changeScreen(c, models.Screen{ID: c.Param("id"), Name: body.Name, Stations: body.Stations})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, kept)
}

// reachScreen finds a screen that the caller may change and that is not revoked.
func (s *Server) reachScreen(c *gin.Context, id string) (models.Screen, error) {
	screen, err := s.Store.Screen(c.Request.Context(), id)
	if caller, _ := current(c); err == nil && (!reachesSite(caller, screen.Site) || screen.RevokedAt != nil) {
		err = models.Errorf(models.CodeNotFound, "there is no screen %q", id)
	}
	return screen, err
}

// changeScreen has the screen's board come anew, too.
func (s *Server) changeScreen(c *gin.Context, screen models.Screen) (kept models.Screen, err error) {
	ctx := c.Request.Context()
	before, err := s.reachScreen(c, screen.ID)
	if err == nil {
		err = goodName(screen.Name, 100)
	}
	if err != nil {
		return kept, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if kept, err = tx.ChangeScreen(ctx, screen); err != nil {
			return err
		}
		if err := s.tell(ctx, tx, before.Site, liveSetup, map[string]any{"screen": screen.ID}); err != nil {
			return err
		}
		return s.note(c, tx, before.Site, models.DidChangeScreen, screen.Name)
	})
	return kept, err
}

func (s *Server) deleteScreen(c *gin.Context) error {
	if err := s.endScreen(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

// endScreen revokes a screen; its sessions end with its token, its open streams at once.
func (s *Server) endScreen(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	screen, err := s.reachScreen(c, id)
	if err != nil {
		return err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RevokeToken(ctx, id, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, screen.Site, models.DidRevokeScreen, screen.Name)
	})
	if err == nil {
		s.ended.end(id)
	}
	return err
}

// present notes that the screen that asks is there. That it could not be noted must not keep the screen from its work.
func (s *Server) present(c *gin.Context, t models.Token, at time.Time) {
	if t.Kind != models.TokenScreen {
		return
	}
	if err := s.Store.SawScreen(c.Request.Context(), t.ID, at); err != nil && c.Request.Context().Err() == nil {
		s.Log.WarnContext(c.Request.Context(), "a screen's presence was not noted", "error", err)
	}
}
