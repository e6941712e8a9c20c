package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// newSiteView is the form for a new shop.
type newSiteView struct {
	head
	Code, Name, Timezone, Currency, From string
	Example                              bool // an example can be copied
	Wrong                                map[string]*models.FieldError
	General                              string
}

// newSite shows the form for a new shop. It needs an organisation-wide access key.
func (p *pages) newSite(c *gin.Context) {
	if h, ok := p.enterOrganisation(c); ok {
		p.render(c, http.StatusOK, "newsite", newSiteView{head: h, Example: p.Example != nil, From: "example"})
	}
}

// enterOrganisation is enter for callers who may create sites.
func (p *pages) enterOrganisation(c *gin.Context) (head, bool) {
	token, ok := p.Current(c)
	if !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return head{}, false
	}
	h := p.publicHead(c, "setup.title.new")
	h.Scripts = []string{"new-site.js"}
	if !token.May(models.ScopeManage, "") {
		p.renderTrouble(c, models.CodeForbidden, h.voice.Say("setup.new.not_allowed"))
		return head{}, false
	}
	return h, true
}

func (p *pages) postNewSite(c *gin.Context) {
	h, ok := p.enterOrganisation(c)
	if !ok {
		return
	}
	field := func(name string) string { return strings.TrimSpace(c.PostForm(name)) }
	v := newSiteView{head: h, Example: p.Example != nil, Code: field("code"), Name: field("name"), Timezone: field("timezone"),
		Currency: strings.ToUpper(field("currency")), From: field("from"), Wrong: map[string]*models.FieldError{}}
	setup := models.NewShop()
	if v.From == "example" && p.Example != nil {
		setup = p.Example(p.Now())
	}
	setup.Site.Code, setup.Site.Name, setup.Site.Timezone, setup.Site.Currency = v.Code, v.Name, v.Timezone, v.Currency
	setup.Ice.CountedAt, setup.Ice.Plain.CountedAt = nil, nil
	err := setup.Validate()
	if err == nil {
		err = p.SaveSetup(c, setup, "")
	}
	if err == nil {
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(v.Code)+"/setup")
		return
	}
	var wrong []models.FieldError
	if e := (*models.Error)(nil); errors.As(err, &e) {
		wrong = inPlainWords(e.Fields, formConfig(setup, setupSections[0], h.voice), h.voice)
	}
	for _, f := range wrong {
		switch name, ok := strings.CutPrefix(f.Pointer, "/site/"); {
		case ok && (name == "code" || name == "name" || name == "timezone" || name == "currency"):
			v.Wrong[name] = &f
		default:
			v.General += f.Detail + " "
		}
	}
	switch models.CodeOf(err) {
	case models.CodeInvalid:
	case models.CodeNeedsMatch, models.CodePrecondition:
		v.Wrong["code"] = &models.FieldError{Detail: h.voice.Say("setup.new.taken")}
	default:
		v.General += trouble(h.voice.Catalogue, err)
	}
	p.render(c, models.CodeOf(err).Status(), "newsite", v)
}
