package web

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// head is the data of the frame around every page.
type head struct {
	Title     string
	CSRF      string
	Scripts   []string
	Site      string // code, for links
	SiteName  string
	Page      string
	Pages     []pageLink // the navigation, only pages the caller may open
	MayManage bool
	MoreSites bool
	Demo      *demoBar // nil: this is no demo
	Refresh   int      // seconds until a browser without scripts loads the page again; 0: never
	Pace      float64  // the service's seconds in a real one: 1 but in a demo

	voice voice
}

// voice looks up texts and formats quantities and times in a site's language and units.
type voice struct {
	*words.Catalogue
	say.Writer
}

func voiceOf(s models.Site) voice { return voice{texts.For(s.Language), say.WriterFor(s)} }

func (h head) language() string {
	if h.voice.Catalogue == nil {
		return words.English
	}
	return h.voice.Language()
}

// localised is a view with a language.
type localised interface{ language() string }

// publicHead is the frame of a page without a site, in the browser's language.
func (p *pages) publicHead(c *gin.Context, title string, args ...any) head {
	h := head{CSRF: p.CSRF(c), voice: voice{texts.For(c.GetHeader("Accept-Language")), say.Metric(time.UTC)}}
	h.Title = h.voice.Say(title, args...)
	return h
}

func (p *pages) render(c *gin.Context, status int, name string, view any) {
	c.Header("Content-Type", "text/html; charset=utf-8")
	c.Status(status)
	lang := words.English
	if v, ok := view.(localised); ok {
		lang = v.language()
	}
	if err := templates[lang].ExecuteTemplate(c.Writer, name, view); err != nil {
		p.Log.Error("page failed while rendering", "page", name, "error", err)
	}
}

// renderError shows an error as a page. The text of an internal error is logged and not shown. Where the browser has gone, nobody reads it.
func (p *pages) renderError(c *gin.Context, err error) {
	if c.Request.Context().Err() != nil {
		c.Status(statusGone)
		return
	}
	problem := models.ProblemOf(err)
	if models.CodeOf(err) == models.CodeInternal {
		p.Log.Error("page failed", "path", c.Request.URL.Path, "error", err)
		problem.Detail = texts.For(c.GetHeader("Accept-Language")).Say("door.trouble.internal")
	}
	h := p.publicHead(c, "door.title.trouble", "what", problem.Title)
	p.render(c, models.CodeOf(err).Status(), "trouble", struct {
		head
		What, Detail string
	}{h, problem.Title, problem.Detail})
}

// statusGone is what the request log has for a browser that has gone (499, as is usual).
const statusGone = 499

func siteName(s models.Site) string {
	if s.Name != "" {
		return s.Name
	}
	return s.Code
}

// enter checks that the caller has a scope for the site and fills the page's frame. page is the page's name in paths and in its
// title's key, "page.NAME". If ok is false, enter has already responded, with a redirect to sign-in or an error page.
func (p *pages) enter(c *gin.Context, scope, page string) (h head, setup models.Setup, ok bool) {
	token, signedIn := p.Current(c)
	if !signedIn {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return h, setup, false
	}
	site := c.Param("site")
	if !token.May(models.ScopeRead, site) {
		p.renderError(c, models.Errorf(models.CodeNotFound, "There is no site %q for your access key.", site))
		return h, setup, false
	}
	if !token.May(scope, site) {
		p.renderError(c, models.Errorf(models.CodeForbidden, "Your access key cannot open this page: it needs scope %q.", scope))
		return h, setup, false
	}
	setup, _, err := p.Store.Setup(c.Request.Context(), site)
	if err != nil {
		p.renderError(c, err)
		return h, setup, false
	}
	v := voiceOf(setup.Site)
	h = head{Title: v.Say("page."+page) + " · " + siteName(setup.Site), CSRF: p.CSRF(c), Site: site, SiteName: siteName(setup.Site), Page: page,
		Pages: p.navLinks(token, site, v), MayManage: token.May(models.ScopeManage, site), MoreSites: token.Site == "", voice: v,
		Demo: p.demoBar(c, site, page, v), Pace: p.pace()}
	return h, setup, true
}
