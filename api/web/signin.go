package web

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/models"
)

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
