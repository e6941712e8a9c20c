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

// tokenBody asks for a token. Site null or left out: of the caller's own reach.
type tokenBody struct {
	Name   string   `json:"name" opt:"true" validate:"max=200"`
	Scopes []string `json:"scopes" opt:"false" validate:"min=1,max=4,dive,oneof=manage kitchen sales read"`
	Site   *string  `json:"site"`
}

// newToken is a token with its secret, which is shown this once.
type newToken struct {
	models.Token
	Secret string `json:"secret"`
}

// postToken makes a token. A token of one site makes tokens of that site only.
func (s *Server) postToken(c *gin.Context) error {
	var body tokenBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := current(c)
	t := models.Token{Name: body.Name, Site: caller.Site}
	for _, scope := range body.Scopes {
		if !slices.Contains(t.Scopes, scope) {
			t.Scopes = append(t.Scopes, scope)
		}
	}
	if body.Site != nil {
		t.Site = *body.Site
	}
	if !reaches(caller, t) {
		return models.Errorf(models.CodeForbidden, "a token of site %q can make tokens of that site only", caller.Site)
	}
	kept, secret, err := s.makeToken(c, t)
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/tokens/"+kept.ID)
	return answer(c, http.StatusCreated, newToken{kept, secret})
}

// makeToken makes a token within the caller's reach; pages make them by it too.
func (s *Server) makeToken(c *gin.Context, t models.Token) (kept models.Token, secret string, err error) {
	ctx := c.Request.Context()
	caller, _ := current(c)
	if t.Site != "" || caller.Site != "" {
		if err := s.siteWithin(ctx, caller, t.Site, ""); err != nil {
			return kept, "", err
		}
	}
	if err := needScopes(t.Scopes); err != nil {
		return kept, "", err
	}
	if t.Name != "" {
		if err := goodName(t.Name, 200); err != nil {
			return kept, "", err
		}
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if kept, secret, err = tx.AddToken(ctx, t, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, t.Site, models.DidMakeToken, t.Name+" ("+strings.Join(t.Scopes, ", ")+")")
	})
	return kept, secret, err
}

// reaches reports whether a caller's token may make, see and end another.
func reaches(caller, t models.Token) bool { return reachesSite(caller, t.Site) }

func reachesSite(caller models.Token, site string) bool {
	return caller.Site == "" || caller.Site == site
}

// siteWithin refuses a site in a body that is not set up or that the caller does not reach; the two cannot be told apart. Why
// says what needs a site, where none will not do.
func (s *Server) siteWithin(ctx context.Context, caller models.Token, site, why string) error {
	if site == "" {
		return models.Invalid("/site", "the code of a site that is set up", "%s", cmp.Or(why, "who manages one site cannot give rights over all of them"))
	}
	_, _, err := s.Store.Setup(ctx, site)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && !reachesSite(caller, site)) {
		accepted := "the code of a site that is set up"
		if why == "" {
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
	caller, _ := current(c)
	return answerPart(c, slices.DeleteFunc(all, func(t models.Token) bool { return t.Kind != models.TokenKey || !reaches(caller, t) }), p)
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
	if caller, _ := current(c); t.Kind != models.TokenKey || !reaches(caller, t) { // screens and people are ended where they are listed
		return models.Errorf(models.CodeNotFound, "there is no token %q", id)
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RevokeToken(ctx, id, s.Now()); err != nil || t.RevokedAt != nil {
			return err
		}
		return s.note(c, tx, t.Site, models.DidRevokeToken, t.Name)
	})
	if err == nil {
		s.ended.end(id)
	}
	return err
}
