package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// accountView is what is one's own: the password, and where one is signed in.
type accountView struct {
	head
	Name     string
	IsPerson bool
	MinChars int
	Sessions []sessionLine
	Wrong    []string
	Done     string
}

func (p *pages) account(c *gin.Context) { p.showAccount(c, http.StatusOK, nil, "") }

func (p *pages) showAccount(c *gin.Context, status int, wrong []string, done string) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	list, err := p.Access.Sessions(c)
	if err != nil {
		p.trouble(c, err)
		return
	}
	var own []models.Session
	for _, s := range list {
		if s.Token == token.ID {
			own = append(own, s)
		}
	}
	h := p.doorHead(c, "account.title")
	sites, err := p.reachable(c, token)
	if err != nil {
		p.trouble(c, err)
		return
	}
	if len(sites) > 0 { // times by the clock of the shop
		setup, _, err := p.Store.Setup(c.Request.Context(), sites[0].Code)
		if err != nil {
			p.trouble(c, err)
			return
		}
		h.voice = voiceOf(setup.Site)
	}
	p.render(c, status, "account", accountView{head: h, Name: token.Name, IsPerson: token.Kind == models.TokenPerson, MinChars: models.MinPassword,
		Sessions: sessionLines(own, h.voice, p.Now()), Wrong: wrong, Done: done})
}

// changeAccount does what one of the page's forms asks.
func (p *pages) changeAccount(c *gin.Context) {
	if _, ok := p.Current(c); !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	var err error
	done := ""
	switch c.Param("form") {
	case "password":
		err = p.Access.ChangePassword(c, c.PostForm("old"), c.PostForm("password"))
		done = p.doorHead(c, "account.title").voice.Say("account.changed")
	case "session":
		err = p.Access.EndSession(c, c.PostForm("id"))
	default:
		err = models.Errorf(models.CodeNotFound, "there is nothing at this address")
	}
	switch models.CodeOf(err) {
	case "":
		if done == "" {
			c.Redirect(http.StatusSeeOther, "/account")
			return
		}
		p.showAccount(c, http.StatusOK, nil, done)
	case models.CodeInvalid, models.CodeNotFound, models.CodeTooMany:
		p.showAccount(c, models.CodeOf(err).Status(), wrongs(err), "")
	default:
		p.trouble(c, err)
	}
}

// welcomeView is where somebody who was invited chooses a password.
type welcomeView struct {
	head
	Name, SignIn, Code string
	MinChars           int
	Wrong              []string
}

func (p *pages) welcomeForm(c *gin.Context) { p.showWelcome(c, http.StatusOK, c.Query("code"), nil) }

func (p *pages) showWelcome(c *gin.Context, status int, code string, wrong []string) {
	person, err := p.Access.LinkedPerson(c, code)
	if err != nil {
		p.trouble(c, err)
		return
	}
	p.render(c, status, "welcome", welcomeView{p.doorHead(c, "account.welcome.title"), person.Name, person.SignIn, code, models.MinPassword, wrong})
}

// welcome keeps the password and signs in with it.
func (p *pages) welcome(c *gin.Context) {
	code, password := c.PostForm("code"), c.PostForm("password")
	person, err := p.Access.Welcome(c, code, password)
	if models.CodeOf(err) == models.CodeInvalid {
		p.showWelcome(c, http.StatusUnprocessableEntity, code, wrongs(err))
		return
	}
	if err == nil {
		err = p.Access.SignInPerson(c, person.SignIn, password)
	}
	if err != nil {
		p.trouble(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/")
}
