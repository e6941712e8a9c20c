package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// accountView is the caller's own account: password, notifications and sessions.
type accountView struct {
	head
	Name     string
	IsPerson bool
	MinChars int
	Sessions []sessionLine
	Wrong    []string
	Done     string
	PushKey  string // that browsers subscribe with; "": access keys get no notifications
	Notify   []notifyLine
	Devices  []deviceLine
	Search   string // the shops looked for in Notify
	MaySeek  bool   // there are more shops than Notify has
}

func (p *pages) account(c *gin.Context) { p.renderAccount(c, http.StatusOK, nil, "") }

func (p *pages) renderAccount(c *gin.Context, status int, wrong []string, done string) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	list, err := p.Access.Sessions(c)
	if err != nil {
		p.renderError(c, err)
		return
	}
	var own []models.Session
	for _, s := range list {
		if s.Token == token.ID {
			own = append(own, s)
		}
	}
	h := p.publicHead(c, "frame.account")
	search := c.Query("search")
	sites, err := p.reachableSites(c, token, search, "")
	if err != nil {
		p.renderError(c, err)
		return
	}
	if len(sites.Rows) > 0 { // times in the shop's time zone
		setup, _, err := p.Store.Setup(c.Request.Context(), sites.Rows[0].Code)
		if err != nil {
			p.renderError(c, err)
			return
		}
		h.voice = voiceOf(setup.Site)
	}
	v := accountView{head: h, Name: token.Name, IsPerson: token.Kind == models.TokenPerson, MinChars: models.MinPassword,
		Sessions: sessionLines(own, h.voice, p.Now()), Wrong: wrong, Done: done,
		Search: search, MaySeek: search != "" || sites.Next != nil}
	if v.IsPerson && (len(sites.Rows) > 0 || v.MaySeek) {
		v.Scripts = []string{"notify.js"}
		if err := v.loadNotify(c, p, token.ID, sites.Rows); err != nil {
			p.renderError(c, err)
			return
		}
	}
	p.render(c, status, "account", v)
}

// postAccount handles the page's forms.
func (p *pages) postAccount(c *gin.Context) {
	if _, ok := p.Current(c); !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	var err error
	done := ""
	switch c.Param("form") {
	case "password":
		err = p.Access.ChangePassword(c, c.PostForm("old"), c.PostForm("password"))
		done = p.publicHead(c, "frame.account").voice.Say("account.changed")
	case "session":
		err = p.Access.EndSession(c, c.PostForm("id"))
	case "device":
		err = p.Access.RemovePushDevice(c, c.PostForm("id"))
	default:
		err = models.Errorf(models.CodeNotFound, "there is no such page")
	}
	switch models.CodeOf(err) {
	case "":
		if done == "" {
			c.Redirect(http.StatusSeeOther, "/account")
			return
		}
		p.renderAccount(c, http.StatusOK, nil, done)
	case models.CodeInvalid, models.CodeNotFound, models.CodeTooMany:
		p.renderAccount(c, models.CodeOf(err).Status(), troubles(p.catalogueOf(c), err), "")
	default:
		p.renderError(c, err)
	}
}

// welcomeView is the page on which an invited person chooses a password.
type welcomeView struct {
	head
	Name, SignIn, Code string
	MinChars           int
	Wrong              []string
}

func (p *pages) welcomeForm(c *gin.Context) { p.renderWelcome(c, http.StatusOK, c.Query("code"), nil) }

func (p *pages) renderWelcome(c *gin.Context, status int, code string, wrong []string) {
	person, err := p.Access.PersonByLink(c, code)
	if models.CodeOf(err) == models.CodeNotFound {
		p.renderTrouble(c, models.CodeNotFound, p.catalogueOf(c).Say("account.welcome.used"))
		return
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, status, "welcome", welcomeView{p.publicHead(c, "account.welcome.title"), person.Name, person.SignIn, code, models.MinPassword, wrong})
}

// postWelcome sets the password and signs the person in.
func (p *pages) postWelcome(c *gin.Context) {
	code, password := c.PostForm("code"), c.PostForm("password")
	person, err := p.Access.ChoosePassword(c, code, password)
	if models.CodeOf(err) == models.CodeInvalid {
		p.renderWelcome(c, http.StatusUnprocessableEntity, code, troubles(p.catalogueOf(c), err))
		return
	}
	if err == nil {
		err = p.Access.SignInWithPassword(c, person.SignIn, password)
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/")
}
