package web

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sitePages are a site's pages in the order of the navigation, each with the scope it needs. A page is listed if its path,
// /s/{site}/NAME, is registered; its title is the text "page.NAME".
var sitePages = []struct {
	name, scope string
	inMenu      bool // behind the menu rather than always in sight
}{
	{"weekend", models.ScopeManage, false},
	{"kitchen", models.ScopeRead, false},
	{"count", models.ScopeKitchen, false},
	{"recipes", models.ScopeManage, false},
	{"review", models.ScopeManage, false},
	{"known", models.ScopeManage, true},
	{"setup", models.ScopeManage, true},
	{"people", models.ScopeManage, true},
}

// pageLink is a page in the navigation.
type pageLink struct {
	Page, Name string
	InMenu     bool
}

// navLinks returns the pages that a token may open at a site.
func (p *pages) navLinks(token models.Token, site string, v voice) []pageLink {
	var out []pageLink
	for _, l := range sitePages {
		if p.served[l.name] && token.May(l.scope, site) {
			out = append(out, pageLink{l.name, v.Say("page." + l.name), l.inMenu})
		}
	}
	return out
}

// servedPages returns which of sitePages a router has.
func servedPages(r gin.IRouter) map[string]bool {
	out := map[string]bool{}
	engine, ok := r.(interface{ Routes() gin.RoutesInfo })
	if !ok {
		return out
	}
	for _, route := range engine.Routes() {
		for _, l := range sitePages {
			if route.Method == "GET" && route.Path == "/s/:site/"+l.name {
				out[l.name] = true
			}
		}
	}
	return out
}
