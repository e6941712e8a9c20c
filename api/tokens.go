package api

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// tokenBody is the body of POST tokens. Site and groups null or left out: the caller's own.
type tokenBody struct {
	Name   string   `json:"name" opt:"true" validate:"max=200,name"`
	Scopes []string `json:"scopes" opt:"false" validate:"min=1,max=4,dive,oneof=manage kitchen sales read"`
	Site   *string  `json:"site"`
	Groups []string `json:"groups" validate:"max=20,dive,min=1,max=60"`

	Sandbox bool `json:"sandbox" default:"false"` // for trying out an integration: requests are checked and answered, but nothing is stored
}

// newToken is a new token with its secret, the only response that shows it.
type newToken struct {
	models.Token
	Secret string `json:"secret"`
}

// postToken creates a token. A token for one site can create tokens for that site only.
func (s *Server) postToken(c *gin.Context) error {
	var body tokenBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	t := models.Token{Name: body.Name, Sandbox: body.Sandbox}
	t.Site, t.Groups = reachOrOwn(body.Site, body.Groups, caller)
	for _, scope := range body.Scopes {
		if !slices.Contains(t.Scopes, scope) {
			t.Scopes = append(t.Scopes, scope)
		}
	}
	if !reachesToken(caller, t) {
		return models.Errorf(models.CodeForbidden, "a token for %s can create tokens for %s only", describeReach(caller), describeReach(caller))
	}
	stored, secret, err := s.createToken(c, t)
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/tokens/"+stored.ID)
	return writeJSON(c, http.StatusCreated, newToken{stored, secret})
}

// makeToken creates a token within the caller's reach; pages use it too.
func (s *Server) createToken(c *gin.Context, t models.Token) (stored models.Token, secret string, err error) {
	ctx := c.Request.Context()
	caller, _ := callerToken(c)
	if err := s.checkReach(ctx, caller, t.Site, t.Groups); err != nil {
		return stored, "", err
	}
	t.Groups = sortedGroups(t.Groups)
	if err := requireScopes(t.Scopes); err != nil {
		return stored, "", err
	}
	if t.Name != "" {
		if err := checkName(t.Name, 200); err != nil {
			return stored, "", err
		}
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		all, err := tx.Tokens(ctx)
		inUse := func(x models.Token) (string, bool) { return x.Site, x.Kind == models.TokenKey && x.RevokedAt == nil }
		if err := roomFor(s.Most.Tokens, "access keys", t.Site, all, err, inUse); err != nil {
			return err
		}
		if stored, secret, err = tx.AddToken(ctx, t, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, t.Site, models.AuditMakeToken, t.Name+" ("+strings.Join(t.Scopes, ", ")+sandboxText(t)+")")
	})
	return stored, secret, err
}

func sandboxText(t models.Token) string {
	if t.Sandbox {
		return ", sandbox"
	}
	return ""
}

// reachesToken reports whether the caller may create, list and revoke a token.
func reachesToken(caller, t models.Token) bool { return caller.Reaches(t.Site, t.Groups) }

func reachesSite(caller models.Token, site string) bool {
	return caller.Reaches(site, nil)
}

// checkSiteInReach checks a site in a body. A site that does not exist and one out of the caller's reach give the same error.
// whyRequired explains why a site is required; "": only because the caller's token is for one site.
func (s *Server) checkSiteInReach(ctx context.Context, caller models.Token, site, whyRequired string) error {
	if site == "" {
		return models.Invalid("/site", "the code of a site that is set up", "%s", cmp.Or(whyRequired, "a token for one site cannot grant access to all sites"))
	}
	_, _, err := s.Store.Setup(ctx, site)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && !reachesSite(caller, site)) {
		accepted := "the code of a site that is set up"
		if whyRequired == "" {
			accepted += ", or null for the whole organisation"
		}
		return models.Invalid("/site", accepted, "there is no site %q", site)
	}
	return err
}

func (s *Server) getTokens(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	all, err := s.Store.Tokens(c.Request.Context())
	if err != nil {
		return err
	}
	caller, _ := callerToken(c)
	return writePage(c, slices.DeleteFunc(all, func(t models.Token) bool { return t.Kind != models.TokenKey || !reachesToken(caller, t) }), p)
}

func (s *Server) deleteToken(c *gin.Context) error {
	if err := s.revokeToken(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) revokeToken(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	t, err := s.Store.TokenByID(ctx, id)
	if err != nil {
		return err
	}
	if caller, _ := callerToken(c); t.Kind != models.TokenKey || !reachesToken(caller, t) { // screens and people have their own endpoints
		return models.Errorf(models.CodeNotFound, "there is no token %q", id)
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RevokeToken(ctx, id, s.Now()); err != nil || t.RevokedAt != nil {
			return err
		}
		return s.audit(c, tx, t.Site, models.AuditRevokeToken, t.Name)
	})
	if err == nil {
		s.endStreams(ctx, id)
	}
	return err
}
