package web

import (
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sitesShown is how many shops a page of the choice has.
const sitesShown = 50

// chooseView is the choice of a shop.
type chooseView struct {
	head
	Sites    []models.SiteSummary
	Search   string // what is looked for
	MaySeek  bool   // there are more shops than fit a page
	AllShops bool   // sees more than one, and may read
	Next     string // address of the next page; "": this is the last
	Target   string // the page that a shop opens with
	Again    string // the address of the choice itself
	Origin   string
	MayAdd   bool
	NotFirst bool // a page after the first
}

// chooseSite redirects to the caller's only site, or offers a choice.
func (p *pages) chooseSite(c *gin.Context) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	search, cursor := c.Query("search"), c.Query("cursor")
	sites, err := p.reachableSites(c, token, search, cursor)
	if err != nil {
		p.renderError(c, err)
		return
	}
	target := "kitchen"
	if c.Request.URL.Path != "/kitchen" && len(sites.Rows) > 0 && token.May(models.ScopeManage, sites.Rows[0].Code) {
		target = "weekend"
	}
	if len(sites.Rows) == 1 && search == "" && cursor == "" && c.Query("choose") == "" {
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(sites.Rows[0].Code)+"/"+target)
		return
	}
	v := chooseView{head: p.publicHead(c, "door.title.sites"), Sites: sites.Rows, AllShops: token.Has(models.ScopeRead) && (len(sites.Rows) > 1 || search != "" || cursor != ""), Search: search, MaySeek: search != "" || cursor != "" || sites.Next != nil, Target: target,
		Again: c.Request.URL.Path, Origin: p.Origin(c), MayAdd: token.May(models.ScopeManage, ""), NotFirst: cursor != ""}
	if sites.Next != nil {
		v.Next = v.Again + "?" + url.Values{"search": {search}, "cursor": {*sites.Next}}.Encode()
	}
	p.render(c, http.StatusOK, "choose", v)
}

// reachableSites is a page, by name, of the shops that a caller may read.
func (p *pages) reachableSites(c *gin.Context, token models.Token, search, cursor string) (models.Rows[models.SiteSummary], error) {
	if !token.Has(models.ScopeRead) {
		return models.Rows[models.SiteSummary]{}, nil
	}
	return p.Store.SiteList(c.Request.Context(), models.SiteFilter{Sites: token.Sites(), Search: search, ByName: true}, models.Page{Limit: sitesShown, Cursor: cursor})
}
