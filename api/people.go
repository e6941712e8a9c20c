package api

import (
	"context"
	"errors"
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

// personBody is the body of POST and PUT people. Site and groups null or left out: the caller's own.
type personBody struct {
	Name   string   `json:"name" validate:"min=1,max=100,name"`
	SignIn string   `json:"sign_in" validate:"min=1,max=200"`
	Scopes []string `json:"scopes" opt:"false" validate:"min=1,max=4,dive,oneof=manage kitchen sales read"`
	Site   *string  `json:"site"`
	Groups []string `json:"groups" validate:"max=20,dive,min=1,max=60"`
}

func (b personBody) person(id string, caller models.Token) models.Person {
	p := models.Person{ID: id, Name: b.Name, SignIn: b.SignIn, Scopes: b.Scopes}
	p.Site, p.Groups = reachOrOwn(b.Site, b.Groups, caller)
	return p
}

// passwordLink is a single-use link to choose a password, valid for models.LinkTime. No other response shows it.
type passwordLink struct {
	Link  string    `json:"link"`
	Until time.Time `json:"until"`
}

// newPerson is a new account with its password link.
type newPerson struct {
	models.Person
	Link string `json:"link"`
}

func linkPath(code string) string { return "/welcome?code=" + url.QueryEscape(code) }

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
	caller, _ := callerToken(c)
	return writePage(c, slices.DeleteFunc(all, func(x models.Person) bool { return !caller.Reaches(x.Site, x.Groups) }), p)
}

func (s *Server) postPerson(c *gin.Context) error {
	var body personBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	stored, link, err := s.addPerson(c, body.person("", caller))
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/people/"+stored.ID)
	return writeJSON(c, http.StatusCreated, newPerson{stored, link})
}

// addPerson creates an account within the caller's reach; pages use it too.
func (s *Server) addPerson(c *gin.Context, p models.Person) (stored models.Person, link string, err error) {
	ctx := c.Request.Context()
	caller, _ := callerToken(c)
	if p, err = s.checkPerson(c, p); err != nil {
		return stored, "", err
	}
	name, ok := models.SignInName(p.SignIn)
	if !ok {
		return stored, "", models.Invalid("/sign_in", "an e-mail address, or a short name of letters, digits and . _ + - @", "%q is not a valid sign-in name", p.SignIn)
	}
	p.SignIn, p.CreatedBy = name, caller.Name
	var code string
	err = s.Store.Within(ctx, func(tx models.Store) error {
		all, err := tx.People(ctx)
		if err := roomFor(s.Most.People, "people", p.Site, all, err, func(x models.Person) (string, bool) { return x.Site, true }); err != nil {
			return err
		}
		if stored, code, err = tx.AddPerson(ctx, p, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, p.Site, models.AuditAddPerson, p.Name+" ("+strings.Join(p.Scopes, ", ")+")")
	})
	return stored, linkPath(code), err
}

// personInReach returns a person of a site that the caller reaches, else CodeNotFound.
func (s *Server) personInReach(c *gin.Context, id string) (models.Person, error) {
	p, err := s.Store.Person(c.Request.Context(), id)
	if caller, _ := callerToken(c); err == nil && !caller.Reaches(p.Site, p.Groups) {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return p, err
}

func (s *Server) putPerson(c *gin.Context) error {
	var body personBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	before, err := s.personInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	if name, _ := models.SignInName(body.SignIn); name != before.SignIn {
		return models.Invalid("/sign_in", before.SignIn, "the sign-in name cannot change; add another person instead")
	}
	caller, _ := callerToken(c)
	stored, err := s.changePerson(c, body.person(before.ID, caller))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, stored)
}

// changePerson changes the name, scopes, site and groups of a person within the caller's reach; pages use it too.
func (s *Server) changePerson(c *gin.Context, p models.Person) (stored models.Person, err error) {
	ctx := c.Request.Context()
	if _, err := s.personInReach(c, p.ID); err != nil {
		return stored, err
	}
	if p, err = s.checkPerson(c, p); err != nil {
		return stored, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if stored, err = tx.ChangePerson(ctx, p); err != nil {
			return err
		}
		return s.audit(c, tx, p.Site, models.AuditChangePerson, p.Name+" ("+strings.Join(p.Scopes, ", ")+")")
	})
	if err == nil {
		s.endStreams(ctx, p.ID) // open streams reconnect with the new scopes
	}
	return stored, err
}

// checkPerson validates a new or changed person and sorts the scopes.
func (s *Server) checkPerson(c *gin.Context, p models.Person) (models.Person, error) {
	caller, _ := callerToken(c)
	if err := s.checkReach(c.Request.Context(), caller, p.Site, p.Groups); err != nil {
		return p, err
	}
	p.Groups = sortedGroups(p.Groups)
	if err := checkName(p.Name, 100); err != nil {
		return p, err
	}
	p.Scopes = models.SortedScopes(p.Scopes)
	return p, requireScopes(p.Scopes)
}

// checkName requires 1 to longest characters, not all of them spaces. The REST bodies have the same bounds.
func checkName(name string, longest int) error {
	if n := utf8.RuneCountInString(name); n == 0 || n > longest || strings.TrimSpace(name) == "" {
		return models.Invalid("/name", fmt.Sprintf("1 to %d characters", longest), "the name has %d characters without leading and trailing spaces", utf8.RuneCountInString(strings.TrimSpace(name)))
	}
	if !models.ValidName(name) {
		return models.Invalid("/name", models.AcceptedName, "the name has a control character or one that changes the direction of text")
	}
	return nil
}

func requireScopes(scopes []string) error {
	if len(scopes) == 0 {
		return models.Invalid("/scopes", "at least one of manage, kitchen, sales, read", "no scope is given")
	}
	return nil
}

func (s *Server) deletePerson(c *gin.Context) error {
	q := params(c, "erase")
	if err := q.err(); err != nil {
		return err
	}
	remove := func() error { return s.removePerson(c, c.Param("id")) }
	if confirm, erase := c.GetQuery("erase"); erase {
		remove = func() error { return s.erasePerson(c, c.Param("id"), confirm) }
	}
	if err := remove(); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) removePerson(c *gin.Context, id string) error {
	p, err := s.personInReach(c, id)
	if err != nil {
		return err
	}
	return s.removeBy(c, p, func(ctx context.Context, tx models.Store) (note, error) {
		return note{models.AuditRemovePerson, p.Name}, tx.RemovePerson(ctx, id, s.Now())
	})
}

// erasePerson removes a person and their name from whatever they did. confirm is their sign-in name once more.
func (s *Server) erasePerson(c *gin.Context, id, confirm string) error {
	p, err := s.personInReach(c, id)
	if err != nil {
		return err
	}
	if confirm != p.SignIn {
		return models.Invalid("/erase", "the sign-in name of the person", "%q is not the sign-in name of this person", confirm)
	}
	return s.removeBy(c, p, func(ctx context.Context, tx models.Store) (note, error) {
		alias, err := tx.ErasePerson(ctx, id, s.Now())
		return note{models.AuditErasePerson, alias}, err
	})
}

// removeBy removes a person by remove, which returns the entry of the activity log.
func (s *Server) removeBy(c *gin.Context, p models.Person, remove func(ctx context.Context, tx models.Store) (note, error)) error {
	ctx := c.Request.Context()
	if caller, _ := callerToken(c); caller.ID == p.ID {
		return models.Errorf(models.CodeConflict, "you cannot remove yourself; ask another manager")
	}
	err := s.Store.Within(ctx, func(tx models.Store) error {
		n, err := remove(ctx, tx)
		if err != nil {
			return err
		}
		return s.audit(c, tx, p.Site, n.action, n.subject)
	})
	if err == nil {
		s.endStreams(ctx, p.ID)
	}
	return err
}

func (s *Server) postLink(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	link, err := s.newPasswordLink(c, c.Param("id"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusCreated, passwordLink{link, s.Now().Add(models.LinkTime).UTC().Truncate(time.Second)})
}

// newPasswordLink creates a link to choose a password, the first one or one to replace a forgotten one.
func (s *Server) newPasswordLink(c *gin.Context, id string) (link string, err error) {
	ctx := c.Request.Context()
	p, err := s.personInReach(c, id)
	if err != nil {
		return "", err
	}
	var code string
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if code, err = tx.NewLink(ctx, id, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, p.Site, models.AuditMakeLink, p.Name)
	})
	return linkPath(code), err
}

// welcomeBody chooses a password with the code of a password link.
type welcomeBody struct {
	Code     string `json:"code" validate:"min=1,max=200"`
	Password string `json:"password"`
}

// welcomeResponse gives the name to sign in with.
type welcomeResponse struct {
	SignIn string `json:"sign_in"`
}

func (s *Server) postWelcome(c *gin.Context) error {
	var body welcomeBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	p, err := s.choosePassword(c, body.Code, body.Password)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, welcomeResponse{p.SignIn})
}

// personByLink returns the person whose password link has the code. Wrong codes count towards the sign-in rate limit.
func (s *Server) personByLink(c *gin.Context, code string) (models.Person, error) {
	return strangerByLink(s, c, func() (models.Person, error) { return s.Store.PersonByLink(c.Request.Context(), code, s.Now()) })
}

// choosePassword sets the password and invalidates the link.
func (s *Server) choosePassword(c *gin.Context, code, password string) (p models.Person, err error) {
	if p, err = s.personByLink(c, code); err != nil {
		return p, err
	}
	ctx := c.Request.Context()
	if err := models.CheckPassword(password, p.Name, p.SignIn, p.Site); err != nil {
		return p, err
	}
	hash, err := s.hashPassword(c, hasher{known: true, key: "person " + p.ID}, password)
	if err != nil {
		return p, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if _, err := tx.PersonByLink(ctx, code, s.Now()); err != nil {
			return err // used in the meantime
		}
		if err := tx.SetPassword(ctx, p.ID, hash); err != nil {
			return err
		}
		return tx.AddAudit(ctx, models.AuditEntry{At: s.Now(), By: p.Name, ByToken: p.ID, Site: p.Site, Action: models.AuditSetPassword, Subject: p.Name})
	})
	if err != nil {
		return p, err
	}
	s.endStreams(ctx, p.ID)
	return p, s.Store.ForgetAttempts(ctx, "name "+p.SignIn)
}

// passwordBody changes the caller's own password.
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

// changePassword ends all of the person's sessions; the caller gets a new one.
func (s *Server) changePassword(c *gin.Context, old, password string) error {
	t, _ := callerToken(c)
	if t.Kind != models.TokenPerson {
		return models.Errorf(models.CodeForbidden, "only people have passwords; this is an access key")
	}
	ctx := c.Request.Context()
	me, err := s.Store.Person(ctx, t.ID)
	if err != nil {
		return err
	}
	_, stored, err := s.Store.PasswordOf(ctx, me.SignIn)
	if err != nil {
		return err
	}
	myself := hasher{known: true, key: "person " + me.ID} // strangers cannot keep a person from changing the password
	switch err := s.judgePassword(c, myself, old, stored); {
	case models.CodeOf(err) == models.CodeUnauthorised:
		return models.Invalid("/old", "your current password", "the current password is wrong")
	case err != nil:
		return err
	}
	if err := models.CheckPassword(password, me.Name, me.SignIn, me.Site); err != nil {
		return err
	}
	hash, err := s.hashPassword(c, myself, password)
	if err != nil {
		return err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.SetPassword(ctx, me.ID, hash); err != nil {
			return err
		}
		return s.audit(c, tx, me.Site, models.AuditSetPassword, me.Name)
	})
	if err != nil {
		return err
	}
	s.endStreams(ctx, me.ID)
	return s.startSession(c, t, sessionLifetime)
}

// checkPassword returns the person with a sign-in name and password, and the hash of it. It returns CodeUnauthorised for an unknown name or a wrong
// password, the same for both, and CodeTooMany after too many attempts for the name or from the address, or from the device if the person
// has signed in with it before.
func (s *Server) checkPassword(c *gin.Context, signIn, password string) (p models.Person, hash string, err error) {
	name, _ := models.SignInName(signIn)
	if len(name) > 200 {
		return p, "", wrongPassword()
	}
	p, hash, err = s.Store.PasswordOf(c.Request.Context(), name)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return p, "", err
	}
	who := hasher{name: name}
	if device, ok := s.knownDevice(c, p.ID, hash); ok {
		who = hasher{known: true, key: "device " + device}
	}
	if err := s.judgePassword(c, who, password, hash); err != nil {
		return p, "", err
	}
	return p, hash, nil
}

// judgePassword compares a password with a hash, "" of nobody. The attempt is counted before that.
func (s *Server) judgePassword(c *gin.Context, who hasher, password, hash string) error {
	if len(password) > 8*models.MaxPassword {
		return wrongPassword()
	}
	key, address := who.key, ""
	if !who.known {
		key, address = "name "+who.name, s.limitKey(c)
		if err := s.rateLimit(c, s.signIns, address); err != nil {
			return err
		}
	}
	giveBack := func() {
		if !who.known {
			s.signIns.giveBack(address)
		}
	}
	ctx := c.Request.Context()
	wait, err := s.Store.CountAttempt(ctx, key, s.Now())
	if err != nil {
		giveBack()
		return err
	}
	if wait > 0 {
		giveBack()
		return tooManyRequests(c, wait)
	}
	same, err := s.passwordMatches(c, who, password, hash)
	switch {
	case err != nil: // not judged
		giveBack()
		return errors.Join(err, s.Store.UncountAttempt(context.WithoutCancel(ctx), key))
	case !same:
		return wrongPassword()
	}
	giveBack()
	return s.Store.ForgetAttempts(ctx, key)
}

func wrongPassword() error {
	return models.Errorf(models.CodeUnauthorised, "wrong name or password")
}

// signInWithPassword starts a session for a person.
func (s *Server) signInWithPassword(c *gin.Context, signIn, password string) error {
	p, hash, err := s.checkPassword(c, signIn, password)
	if err != nil {
		if name, _ := models.SignInName(signIn); models.CodeOf(err) == models.CodeUnauthorised {
			s.auditFailedSignIn(c, name)
		}
		return err
	}
	ctx := c.Request.Context()
	t, err := s.Store.TokenByID(ctx, p.ID)
	if err != nil {
		return err
	}
	if err := s.Store.SignedIn(ctx, p.ID, s.Now()); err != nil {
		return err
	}
	if err := s.signIn(c, t); err != nil {
		return err
	}
	s.rememberDevice(c, p.ID, hash)
	return nil
}
