package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/models"
)

type siteChoice struct{ Code, Name string }

func (p *pages) signInForm(c *gin.Context) {
	if t, ok := p.Current(c); ok && t.Kind == models.TokenScreen { // a paired screen needs no sign-in
		c.Redirect(http.StatusSeeOther, "/kitchen")
		return
	}
	if code := c.Query("once"); code != "" && p.OneTime != nil {
		if key, ok := p.OneTime(code); ok && p.SignIn(c, key) == nil {
			c.Redirect(http.StatusSeeOther, "/")
			return
		}
	}
	p.renderSignIn(c, http.StatusOK, "")
}

func (p *pages) renderSignIn(c *gin.Context, status int, wrong string) {
	h := p.publicHead(c, "door.title.sign_in")
	h.Scripts = []string{"forget.js"}
	p.render(c, status, "signin", struct {
		head
		Wrong, Name string
	}{h, wrong, c.PostForm("name")})
}

func (p *pages) signIn(c *gin.Context) {
	name, wrong := strings.TrimSpace(c.PostForm("name")), "door.wrong.key"
	var err error
	if name == "" {
		err = p.SignIn(c, c.PostForm("key"))
	} else {
		err, wrong = p.Access.SignInWithPassword(c, name, c.PostForm("key")), "door.wrong.password"
	}
	switch models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, "/")
	case models.CodeUnauthorised:
		p.renderSignIn(c, http.StatusUnauthorized, texts.For(c.GetHeader("Accept-Language")).Say(wrong))
	case models.CodeTooMany:
		p.renderSignIn(c, http.StatusTooManyRequests, texts.For(c.GetHeader("Accept-Language")).Say("door.wrong.tries"))
	default:
		p.renderError(c, err)
	}
}

func (p *pages) signOut(c *gin.Context) {
	if err := p.SignOut(c); err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/sign-in?out=1") // forget.js ends the notifications on the device too
}

// chooseSite redirects to the caller's only site, or offers a choice.
func (p *pages) chooseSite(c *gin.Context) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	sites, err := p.reachableSites(c, token)
	if err != nil {
		p.renderError(c, err)
		return
	}
	target := "kitchen"
	if c.Request.URL.Path != "/kitchen" && len(sites) > 0 && token.May(models.ScopeManage, sites[0].Code) {
		target = "weekend"
	}
	if len(sites) == 1 && c.Query("choose") == "" {
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(sites[0].Code)+"/"+target)
		return
	}
	p.render(c, http.StatusOK, "choose", struct {
		head
		Sites    []siteChoice
		Target   string
		Origin   string
		MayAdd   bool // may add shops
		AllShops bool // sees more than one, and may read
	}{p.publicHead(c, "door.title.sites"), sites, target, p.Origin(c), token.May(models.ScopeManage, ""), len(sites) > 1 && token.Has(models.ScopeRead)})
}

func (p *pages) reachableSites(c *gin.Context, token models.Token) ([]siteChoice, error) {
	codes, err := p.Store.Sites(c.Request.Context())
	if err != nil {
		return nil, err
	}
	var out []siteChoice
	for _, code := range codes {
		if !token.May(models.ScopeRead, code) {
			continue
		}
		setup, _, err := p.Store.Setup(c.Request.Context(), code)
		if err != nil {
			return nil, err
		}
		out = append(out, siteChoice{code, siteName(setup.Site)})
	}
	return out, nil
}
