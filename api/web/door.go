package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say/quantity"
	"hotday/planner/say/words"
)

// head is what every page's frame shows.
type head struct {
	Title     string
	CSRF      string
	Scripts   []string
	Site      string // the code, for links
	SiteName  string
	Page      string
	Pages     []pageLink // what the person may open, in order
	MayManage bool
	MoreSites bool

	voice voice
}

// voice says texts, and writes quantities and times, in the way of a site.
type voice struct {
	*words.Catalogue
	quantity.Writer
}

func voiceOf(s models.Site) voice { return voice{texts.For(s.Language), quantity.For(s)} }

func (h head) language() string {
	if h.voice.Catalogue == nil {
		return words.English
	}
	return h.voice.Language()
}

// spoken is a view that knows its language.
type spoken interface{ language() string }

// doorHead is the frame of a page of no site: it speaks what the browser asks for.
func (p *pages) doorHead(c *gin.Context, title string, args ...any) head {
	h := head{CSRF: p.CSRF(c), voice: voice{texts.For(c.GetHeader("Accept-Language")), quantity.Metric(time.UTC)}}
	h.Title = h.voice.Say(title, args...)
	return h
}

type choice struct{ Code, Name string }

func (p *pages) render(c *gin.Context, status int, name string, view any) {
	c.Header("Content-Type", "text/html; charset=utf-8")
	c.Status(status)
	lang := words.English
	if v, ok := view.(spoken); ok {
		lang = v.language()
	}
	if err := templates[lang].ExecuteTemplate(c.Writer, name, view); err != nil {
		p.Log.Error("page broke off", "page", name, "err", err)
	}
}

// trouble shows an error as a page, in the words of the error where it is the reader's to mend.
func (p *pages) trouble(c *gin.Context, err error) {
	problem := models.ProblemOf(err)
	if models.CodeOf(err) == models.CodeInternal {
		p.Log.Error("page failed", "path", c.Request.URL.Path, "err", err)
		problem.Detail = texts.For(c.GetHeader("Accept-Language")).Say("door.trouble.internal")
	}
	h := p.doorHead(c, "door.title.trouble", "what", problem.Title)
	p.render(c, models.CodeOf(err).Status(), "trouble", struct {
		head
		What, Detail string
	}{h, problem.Title, problem.Detail})
}

func (p *pages) signInForm(c *gin.Context) {
	if t, ok := p.Current(c); ok && t.Kind == models.TokenScreen { // nobody signs in at a wall by mistake
		c.Redirect(http.StatusSeeOther, "/kitchen")
		return
	}
	p.door(c, http.StatusOK, "")
}

func (p *pages) door(c *gin.Context, status int, wrong string) {
	p.render(c, status, "signin", struct {
		head
		Wrong, Name string
	}{p.doorHead(c, "door.title.sign_in"), wrong, c.PostForm("name")})
}

func (p *pages) signIn(c *gin.Context) {
	name, wrong := strings.TrimSpace(c.PostForm("name")), "door.wrong.key"
	var err error
	if name == "" {
		err = p.SignIn(c, c.PostForm("key"))
	} else {
		err, wrong = p.Access.SignInPerson(c, name, c.PostForm("key")), "door.wrong.password"
	}
	switch models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, "/")
	case models.CodeUnauthorised:
		p.door(c, http.StatusUnauthorized, texts.For(c.GetHeader("Accept-Language")).Say(wrong))
	case models.CodeTooMany:
		p.door(c, http.StatusTooManyRequests, texts.For(c.GetHeader("Accept-Language")).Say("door.wrong.tries"))
	default:
		p.trouble(c, err)
	}
}

func (p *pages) signOut(c *gin.Context) {
	if err := p.SignOut(c); err != nil {
		p.trouble(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/sign-in")
}

// choose goes to the page of the one site that the key reaches, or asks which.
func (p *pages) choose(c *gin.Context) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	sites, err := p.reachable(c, token)
	if err != nil {
		p.trouble(c, err)
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
		Sites  []choice
		Target string
		Origin string
		MayAdd bool // shops
	}{p.doorHead(c, "door.title.sites"), sites, target, p.origin(c), token.May(models.ScopeManage, "")})
}

func (p *pages) reachable(c *gin.Context, token models.Token) ([]choice, error) {
	codes, err := p.Store.Sites(c.Request.Context())
	if err != nil {
		return nil, err
	}
	var out []choice
	for _, code := range codes {
		if !token.May(models.ScopeRead, code) {
			continue
		}
		setup, _, err := p.Store.Setup(c.Request.Context(), code)
		if err != nil {
			return nil, err
		}
		out = append(out, choice{code, siteName(setup.Site)})
	}
	return out, nil
}

func siteName(s models.Site) string {
	if s.Name != "" {
		return s.Name
	}
	return s.Code
}

// enter checks that the session may see the site with a scope, and fills the page's frame. page is the page's name in addresses
// and the key of its title, "page.NAME". Where the person may not it has answered: with the sign-in page's address, or with what
// is missing.
func (p *pages) enter(c *gin.Context, scope, page string) (h head, setup models.Setup, ok bool) {
	token, signedIn := p.Current(c)
	if !signedIn {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return h, setup, false
	}
	site := c.Param("site")
	if !token.May(models.ScopeRead, site) {
		p.trouble(c, models.Errorf(models.CodeNotFound, "No site %q is open to your access key.", site))
		return h, setup, false
	}
	if !token.May(scope, site) {
		p.trouble(c, models.Errorf(models.CodeForbidden, "Your access key may not open this page: it needs the scope %q.", scope))
		return h, setup, false
	}
	setup, _, err := p.Store.Setup(c.Request.Context(), site)
	if err != nil {
		p.trouble(c, err)
		return h, setup, false
	}
	v := voiceOf(setup.Site)
	return head{Title: v.Say("page."+page) + " · " + siteName(setup.Site), CSRF: p.CSRF(c), Site: site, SiteName: siteName(setup.Site), Page: page,
		Pages: p.links(token, site, v), MayManage: token.May(models.ScopeManage, site), MoreSites: token.Site == "", voice: v}, setup, true
}
