package web

import (
	"cmp"
	"net/http"

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

// PaperLight and PaperDark are the colours of the browser's own bars.
func (head) PaperLight() string { return paperLight }

// PaperDark is PaperLight in the dark theme.
func (head) PaperDark() string { return paperDark }

func (h head) language() string {
	if h.voice.Catalogue == nil {
		return words.English
	}
	return h.voice.Language()
}

// Place is the name of a station in the language of the page, for templates.
func (h head) Place(station string) string {
	return say.Voice{Catalogue: words.In(h.language()), Writer: h.voice.Writer}.Place(station)
}

// localised is a view with a language.
type localised interface{ language() string }

// siteLanguage is the key under which a request's context holds the language of its site.
const siteLanguage = "web.site_language"

// catalogueOf has the texts in the language of the request's site, once that has been entered, else in the browser's.
func (p *pages) catalogueOf(c *gin.Context) *words.Catalogue {
	return texts.For(cmp.Or(c.GetString(siteLanguage), c.GetHeader("Accept-Language")))
}

// publicHead is the frame of a page without a site, in the browser's language.
func (p *pages) publicHead(c *gin.Context, title string, args ...any) head {
	texts := p.catalogueOf(c)
	h := head{CSRF: p.CSRF(c), voice: voice{texts, say.WriterFor(models.Site{Language: texts.Language()})}}
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

// renderError shows an error as a page, in the pages' words. An internal error is logged. Where the browser has gone, nobody reads it.
func (p *pages) renderError(c *gin.Context, err error) {
	if c.Request.Context().Err() != nil {
		c.Status(statusGone)
		return
	}
	if models.CodeOf(err) == models.CodeInternal {
		p.Log.Error("page failed", "path", c.Request.URL.Path, "error", err)
	}
	p.renderTrouble(c, models.CodeOf(err), troubles(p.catalogueOf(c), err)...)
}

// renderTrouble shows a page that says in words what is wrong.
func (p *pages) renderTrouble(c *gin.Context, code models.Code, sentences ...string) {
	title := "problem.title." + string(code)
	if !p.catalogueOf(c).Has(title) {
		title = "problem.title.malformed"
	}
	h := p.publicHead(c, title)
	p.render(c, code.Status(), "trouble", struct {
		head
		Sentences []string
	}{h, sentences})
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
		p.renderError(c, models.Errorf(models.CodeNotFound, "there is no site %q for this access key", site))
		return h, setup, false
	}
	if !token.May(scope, site) {
		p.renderError(c, models.Errorf(models.CodeForbidden, "this page needs scope %q", scope))
		return h, setup, false
	}
	setup, _, err := p.Store.Setup(c.Request.Context(), site)
	if err != nil {
		p.renderError(c, err)
		return h, setup, false
	}
	v := voiceOf(setup.Site)
	c.Set(siteLanguage, v.Language())
	h = head{Title: v.Say("page."+page) + " · " + siteName(setup.Site), CSRF: p.CSRF(c), Site: site, SiteName: siteName(setup.Site), Page: page,
		Pages: p.navLinks(token, site, v), MayManage: token.May(models.ScopeManage, site), MoreSites: token.Site == "" || len(token.Groups) > 0, voice: v,
		Demo: p.demoBar(c, site, page, v), Pace: p.pace()}
	return h, setup, true
}
