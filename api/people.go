package api

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// personBody makes or changes an account. Site null or left out: of the caller's own reach.
type personBody struct {
	Name   string   `json:"name" validate:"min=1,max=100"`
	SignIn string   `json:"sign_in" validate:"min=1,max=200"`
	Scopes []string `json:"scopes" opt:"false" validate:"min=1,max=4,dive,oneof=manage kitchen sales read"`
	Site   *string  `json:"site"`
}

// setUpLink is what somebody opens to choose a password, within three days, once. It is shown this once.
type setUpLink struct {
	Link  string    `json:"link"`
	Until time.Time `json:"until"`
}

// newPerson is an account that was just made, with its set-up link.
type newPerson struct {
	models.Person
	Link string `json:"link"`
}

func linkOf(code string) string { return "/welcome?code=" + url.QueryEscape(code) }

func (s *Server) getPeople(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	all, err := s.Store.People(c.Request.Context())
	if err != nil {
		return err
	}
	caller, _ := current(c)
	return answerPart(c, slices.DeleteFunc(all, func(x models.Person) bool { return !reachesSite(caller, x.Site) }), p)
}

func (s *Server) postPerson(c *gin.Context) error {
	var body personBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := current(c)
	kept, link, err := s.addPerson(c, models.Person{Name: body.Name, SignIn: body.SignIn, Scopes: body.Scopes, Site: siteOf(body.Site, caller)})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/people/"+kept.ID)
	return answer(c, http.StatusCreated, newPerson{kept, link})
}

// addPerson makes an account within the caller's reach; pages add people by it too.
func (s *Server) addPerson(c *gin.Context, p models.Person) (kept models.Person, link string, err error) {
	ctx := c.Request.Context()
	caller, _ := current(c)
	if p, err = s.soundPerson(c, p); err != nil {
		return kept, "", err
	}
	name, ok := models.SignInName(p.SignIn)
	if !ok {
		return kept, "", models.Invalid("/sign_in", "an e-mail address, or a short name of letters, digits and . _ + - @", "%q cannot be typed to sign in", p.SignIn)
	}
	p.SignIn, p.CreatedBy = name, caller.Name
	var code string
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if kept, code, err = tx.AddPerson(ctx, p, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, p.Site, models.DidAddPerson, p.Name+" ("+strings.Join(p.Scopes, ", ")+")")
	})
	return kept, linkOf(code), err
}

// reachPerson finds somebody whom the caller may change.
func (s *Server) reachPerson(c *gin.Context, id string) (models.Person, error) {
	p, err := s.Store.Person(c.Request.Context(), id)
	if caller, _ := current(c); err == nil && !reachesSite(caller, p.Site) {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return p, err
}

func (s *Server) putPerson(c *gin.Context) error {
	var body personBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	before, err := s.reachPerson(c, c.Param("id"))
	if err != nil {
		return err
	}
	if name, _ := models.SignInName(body.SignIn); name != before.SignIn {
		return models.Invalid("/sign_in", before.SignIn, "the name to sign in with stays; add another person for another name")
	}
	caller, _ := current(c)
	kept, err := s.changePerson(c, models.Person{ID: before.ID, Name: body.Name, Scopes: body.Scopes, Site: siteOf(body.Site, caller)})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, kept)
}

// changePerson changes what somebody within the caller's reach is called and may do; pages do it too.
func (s *Server) changePerson(c *gin.Context, p models.Person) (kept models.Person, err error) {
	ctx := c.Request.Context()
	if _, err := s.reachPerson(c, p.ID); err != nil {
		return kept, err
	}
	if p, err = s.soundPerson(c, p); err != nil {
		return kept, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if kept, err = tx.ChangePerson(ctx, p); err != nil {
			return err
		}
		return s.note(c, tx, p.Site, models.DidChangePerson, p.Name+" ("+strings.Join(p.Scopes, ", ")+")")
	})
	if err == nil {
		s.ended.end(p.ID) // streams that are open with the old rights ask again
	}
	return kept, err
}

// soundPerson holds the rules against a person that is added or changed, whoever sent it in.
func (s *Server) soundPerson(c *gin.Context, p models.Person) (models.Person, error) {
	caller, _ := current(c)
	if p.Site != "" || caller.Site != "" {
		if err := s.siteWithin(c.Request.Context(), caller, p.Site, ""); err != nil {
			return p, err
		}
	}
	if err := goodName(p.Name, 100); err != nil {
		return p, err
	}
	p.Scopes = models.SortedScopes(p.Scopes)
	return p, needScopes(p.Scopes)
}

// goodName refuses what nobody could be called by; the bodies of the programming interface are held against the same bounds.
func goodName(name string, most int) error {
	if n := utf8.RuneCountInString(name); n == 0 || n > most || strings.TrimSpace(name) == "" {
		return models.Invalid("/name", fmt.Sprintf("1 to %d characters", most), "the name has %d characters that can be read", utf8.RuneCountInString(strings.TrimSpace(name)))
	}
	return nil
}

func needScopes(scopes []string) error {
	if len(scopes) == 0 {
		return models.Invalid("/scopes", "at least one of manage, kitchen, sales, read", "nothing is allowed")
	}
	return nil
}

func (s *Server) deletePerson(c *gin.Context) error {
	if err := s.removePerson(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) removePerson(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	p, err := s.reachPerson(c, id)
	if err != nil {
		return err
	}
	if caller, _ := current(c); caller.ID == id {
		return models.Errorf(models.CodeConflict, "you cannot remove yourself; let somebody else who manages do it")
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RemovePerson(ctx, id, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, p.Site, models.DidRemovePerson, p.Name)
	})
	if err == nil {
		s.ended.end(id)
	}
	return err
}

func (s *Server) postLink(c *gin.Context) error {
	if err := noFields(c); err != nil {
		return err
	}
	link, err := s.newLink(c, c.Param("id"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusCreated, setUpLink{link, s.Now().Add(models.LinkTime).UTC().Truncate(time.Second)})
}

// newLink makes the way for somebody to choose a password, at first or because it was forgotten.
func (s *Server) newLink(c *gin.Context, id string) (link string, err error) {
	ctx := c.Request.Context()
	p, err := s.reachPerson(c, id)
	if err != nil {
		return "", err
	}
	var code string
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if code, err = tx.NewLink(ctx, id, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, p.Site, models.DidMakeLink, p.Name)
	})
	return linkOf(code), err
}

// welcomeBody chooses a password by a set-up link.
type welcomeBody struct {
	Code     string `json:"code" validate:"min=1,max=200"`
	Password string `json:"password"`
}

// welcomeAnswer is who has a password now.
type welcomeAnswer struct {
	SignIn string `json:"sign_in"`
}

func (s *Server) postWelcome(c *gin.Context) error {
	var body welcomeBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	p, err := s.welcome(c, body.Code, body.Password)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, welcomeAnswer{p.SignIn})
}

// linkedPerson finds whose set-up link a code is; wrong codes are slowed down like wrong keys.
func (s *Server) linkedPerson(c *gin.Context, code string) (models.Person, error) {
	if wait := s.signIns.left(c.ClientIP()); wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return models.Person{}, err
	}
	p, err := s.Store.PersonByLink(c.Request.Context(), code, s.Now())
	if models.CodeOf(err) == models.CodeNotFound {
		s.signIns.take(c.ClientIP())
	}
	return p, err
}

// welcome keeps the password that somebody chose by a set-up link, and uses the link up.
func (s *Server) welcome(c *gin.Context, code, password string) (p models.Person, err error) {
	if p, err = s.linkedPerson(c, code); err != nil {
		return p, err
	}
	ctx := c.Request.Context()
	if err := models.CheckPassword(password, p.Name, p.SignIn, p.Site); err != nil {
		return p, err
	}
	hash, err := s.hashPassword(ctx, password)
	if err != nil {
		return p, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if _, err := tx.PersonByLink(ctx, code, s.Now()); err != nil {
			return err // used meanwhile
		}
		if err := tx.SetPassword(ctx, p.ID, hash); err != nil {
			return err
		}
		return tx.AddAudit(ctx, models.AuditEntry{At: s.Now(), By: p.Name, ByToken: p.ID, Site: p.Site, Action: models.DidSetPassword, Subject: p.Name})
	})
	if err == nil {
		s.backoff.guessedRight(p.SignIn)
		s.ended.end(p.ID)
	}
	return p, err
}

// passwordBody changes the password of whoever is signed in.
type passwordBody struct {
	Old      string `json:"old" validate:"max=1000"`
	Password string `json:"password"`
}

func (s *Server) putPassword(c *gin.Context) error {
	var body passwordBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	if err := s.changePassword(c, body.Old, body.Password); err != nil {
		return err
	}
	return noContent(c)
}

// changePassword ends all sessions of the person but the one that asks, which goes on as a new one.
func (s *Server) changePassword(c *gin.Context, old, password string) error {
	t, _ := current(c)
	if t.Kind != models.TokenPerson {
		return models.Errorf(models.CodeForbidden, "only people have passwords; this is an access key")
	}
	ctx := c.Request.Context()
	me, err := s.Store.Person(ctx, t.ID)
	if err != nil {
		return err
	}
	switch err := s.passes(c, me.SignIn, old); {
	case models.CodeOf(err) == models.CodeUnauthorised:
		return models.Invalid("/old", "the password that you have now", "this is not it")
	case err != nil:
		return err
	}
	if err := models.CheckPassword(password, me.Name, me.SignIn, me.Site); err != nil {
		return err
	}
	hash, err := s.hashPassword(ctx, password)
	if err != nil {
		return err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.SetPassword(ctx, me.ID, hash); err != nil {
			return err
		}
		return s.note(c, tx, me.Site, models.DidSetPassword, me.Name)
	})
	if err != nil {
		return err
	}
	s.ended.end(me.ID)
	return s.startSession(c, t, sessionLifetime)
}

// passes holds a name and password against who is known: CodeUnauthorised for a wrong one, whatever is wrong of it, and
// CodeTooMany for a name that was guessed at too often.
func (s *Server) passes(c *gin.Context, signIn, password string) error {
	name, _ := models.SignInName(signIn)
	if len(name) > 200 || len(password) > 8*models.MaxPassword {
		return wrongPassword()
	}
	wait := max(s.signIns.left(c.ClientIP()), s.backoff.wait(name))
	if wait > 0 {
		after, err := tooMany(wait)
		setRetryAfter(c, after)
		return err
	}
	ctx := c.Request.Context()
	_, hash, err := s.Store.PasswordOf(ctx, name)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return err
	}
	same, err := s.samePassword(ctx, password, hash)
	if err != nil {
		return err
	}
	if !same {
		s.signIns.take(c.ClientIP())
		s.backoff.guessedWrong(name)
		return wrongPassword()
	}
	s.backoff.guessedRight(name)
	return nil
}

func wrongPassword() error {
	return models.Errorf(models.CodeUnauthorised, "this name and password do not go together")
}

// signInPerson starts a session for somebody with a password.
func (s *Server) signInPerson(c *gin.Context, signIn, password string) error {
	if err := s.passes(c, signIn, password); err != nil {
		return err
	}
	ctx := c.Request.Context()
	name, _ := models.SignInName(signIn)
	p, _, err := s.Store.PasswordOf(ctx, name)
	if err != nil {
		return err
	}
	t, err := s.Store.TokenByID(ctx, p.ID)
	if err != nil {
		return err
	}
	if err := s.Store.SignedIn(ctx, p.ID, s.Now()); err != nil {
		return err
	}
	return s.startSession(c, t, sessionLifetime)
}
