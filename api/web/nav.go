package web

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sitePages are the pages of a site in the order of the frame's list, each with the scope that it takes. A page stands in the
// list once its address, /s/{site}/NAME, is registered; its name there is the text "page.NAME".
var sitePages = []struct{ name, scope string }{
	{"weekend", models.ScopeManage},
	{"kitchen", models.ScopeRead},
	{"count", models.ScopeKitchen},
	{"recipes", models.ScopeManage},
	{"review", models.ScopeManage},
	{"setup", models.ScopeManage},
	{"people", models.ScopeManage},
}

// pageLink is a page in the frame's list.
type pageLink struct{ Page, Name string }

// links are the pages that a token opens at a site.
func (p *pages) links(token models.Token, site string, v voice) []pageLink {
	var out []pageLink
	for _, l := range sitePages {
		if p.served[l.name] && token.May(l.scope, site) {
			out = append(out, pageLink{l.name, v.Say("page." + l.name)})
		}
	}
	return out
}

// servedPages reads off a router which pages it has.
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
