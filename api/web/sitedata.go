package web

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// deleteView is the page that deletes a shop.
type deleteView struct {
	head
	Typed string
	Wrong []string
}

// enterDelete is enter for those who manage all shops.
func (p *pages) enterDelete(c *gin.Context) (h head, ok bool) {
	h, _, ok = p.enter(c, models.ScopeManage, "setup")
	if token, _ := p.Current(c); ok && !token.Everywhere() {
		p.renderTrouble(c, models.CodeForbidden, h.voice.Say("sitedata.who"))
		return h, false
	}
	return h, ok
}

func (p *pages) deleteSiteForm(c *gin.Context) {
	if h, ok := p.enterDelete(c); ok {
		p.render(c, http.StatusOK, "deletesite", deleteView{head: h})
	}
}

// postDeleteSite deletes the shop and answers with a page that says so, since the shop's own pages are gone with it.
func (p *pages) postDeleteSite(c *gin.Context) {
	h, ok := p.enterDelete(c)
	if !ok {
		return
	}
	typed := strings.TrimSpace(c.PostForm("confirm"))
	switch err := p.Access.DeleteSite(c, h.Site, typed); models.CodeOf(err) {
	case "":
	case models.CodeInvalid:
		p.render(c, http.StatusUnprocessableEntity, "deletesite", deleteView{h, typed, []string{h.voice.Say("sitedata.wrong_code", "code", h.Site)}})
		return
	default:
		p.renderError(c, err)
		return
	}
	gone := p.publicHead(c, "sitedata.gone", "site", h.SiteName)
	gone.Scripts = []string{"forget.js"}
	p.render(c, http.StatusOK, "sitegone", gone)
}
