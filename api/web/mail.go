package web

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// mailLine is a person's e-mail on the access page.
type mailLine struct {
	Address, State string
	Kinds          []box // what they get from this site
	Unconfirmed    bool
	Log            []deliveryLine
}

func (v *peopleView) mailLine(c *gin.Context, p *pages, x models.Person) (*mailLine, error) {
	say := v.voice.Say
	set, err := p.Store.MailSettings(c.Request.Context(), x.ID)
	if err != nil {
		return nil, err
	}
	out := &mailLine{Address: set.Address, State: say("people.mail.none"), Unconfirmed: set.Address != "" && set.ConfirmedAt == nil}
	on := set.Kinds(v.Site)
	out.Kinds = v.kindBoxes(models.MailKinds, on)
	switch {
	case out.Unconfirmed:
		out.State = say("people.mail.unconfirmed", "address", set.Address)
	case set.Address != "" && len(on) == 0:
		out.State = say("people.mail.nothing", "address", set.Address)
	case set.Address != "":
		out.State = say("people.mail.confirmed", "address", set.Address)
	}
	log, err := p.Store.MailLog(c.Request.Context(), x.ID, models.Page{Limit: deliveriesShown})
	for _, m := range log.Rows {
		out.Log = append(out.Log, deliveryLine{ID: m.ID, Event: say("people.mail.kind." + m.Kind), At: v.voice.Near(m.CreatedAt, p.Now()), State: say("people.delivery." + m.State), Answer: truncate(m.Answer, 120)})
	}
	return out, err
}

// kindBoxes are the kinds of message that a person can choose, with those that are on.
func (v *peopleView) kindBoxes(all, on []string) (out []box) {
	for _, k := range all {
		out = append(out, box{k, v.voice.Say("people.mail.kind." + k), slices.Contains(on, k)})
	}
	return out
}

// confirmView is the page on which an address is confirmed. Opening it changes nothing, since mail programs open links by themselves.
type confirmView struct {
	head
	Code, Address string
	Sites         []mailOfSite
	Confirmed     bool
}

type mailOfSite struct {
	Name  string
	Kinds []string
}

func (p *pages) confirmMailForm(c *gin.Context) {
	set, err := p.Access.MailByCode(c, c.Query("code"))
	p.renderConfirm(c, set, err)
}

func (p *pages) postConfirmMail(c *gin.Context) {
	set, err := p.Access.ConfirmMail(c, c.PostForm("code"))
	p.renderConfirm(c, set, err)
}

func (p *pages) renderConfirm(c *gin.Context, set models.MailSettings, err error) {
	if models.CodeOf(err) == models.CodeNotFound {
		p.renderTrouble(c, models.CodeNotFound, p.catalogueOf(c).Say("mail.confirm.over"))
		return
	}
	v := confirmView{Code: c.Query("code") + c.PostForm("code"), Address: set.Address, Confirmed: set.ConfirmedAt != nil}
	for _, x := range set.Subscriptions {
		var name string
		if name, err = p.speakFor(c, x.Site); err != nil {
			break
		}
		of := mailOfSite{Name: name}
		for _, k := range x.Kinds {
			of.Kinds = append(of.Kinds, p.catalogueOf(c).Say("people.mail.kind."+k))
		}
		v.Sites = append(v.Sites, of)
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	v.head = p.publicHead(c, "mail.confirm.title")
	p.render(c, http.StatusOK, "mail-confirm", v)
}

// speakFor sets the language of the request to a site's and returns the site's name.
func (p *pages) speakFor(c *gin.Context, site string) (name string, err error) {
	setup, _, err := p.Store.Setup(c.Request.Context(), site)
	if err != nil {
		return "", err
	}
	if setup.Site.Language != "" {
		c.Set(siteLanguage, setup.Site.Language)
	}
	return siteName(setup.Site), nil
}

// stopView is the page that stops messages, and says which are stopped.
type stopView struct {
	head
	Token, Address, SiteName, Kind string
	Stopped, All                   bool
}

func (p *pages) stopMailForm(c *gin.Context) { p.renderStop(c, false) }

// postStopMail stops messages. Mail programs post here as well, without opening the page (RFC 8058).
func (p *pages) postStopMail(c *gin.Context) {
	all := c.PostForm("all") != ""
	if err := p.Access.StopMail(c, c.Query("token"), all); err != nil && models.CodeOf(err) != models.CodeNotFound {
		p.renderError(c, err)
		return
	}
	p.renderStop(c, all)
}

func (p *pages) renderStop(c *gin.Context, all bool) {
	x, err := p.Access.MailStop(c, c.Query("token"))
	if models.CodeOf(err) == models.CodeNotFound {
		p.renderTrouble(c, models.CodeNotFound, p.catalogueOf(c).Say("mail.stop.over"))
		return
	}
	v := stopView{Token: c.Query("token"), Address: x.Address, Stopped: x.Stopped, All: all}
	if err == nil {
		v.SiteName, err = p.speakFor(c, x.Site)
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	v.head = p.publicHead(c, "mail.stop.title")
	v.Kind = v.voice.Say("people.mail.kind." + x.Kind)
	p.render(c, http.StatusOK, "mail-stop", v)
}
