package web

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
)

// Colours of the browser's own bars: the paper of the themes. The style sheet has them too; a test compares.
const (
	paperLight = "#f7f2e8"
	paperDark  = "#182026"
)

// manifest is a web app manifest (W3C, Web Application Manifest).
type manifest struct {
	ID         string         `json:"id"`
	Name       string         `json:"name"`
	ShortName  string         `json:"short_name"`
	Lang       string         `json:"lang"`
	StartURL   string         `json:"start_url"`
	Scope      string         `json:"scope"`
	Display    string         `json:"display"`
	Background string         `json:"background_color"` //nolint:misspell // the name is the manifest's
	Theme      string         `json:"theme_color"`      //nolint:misspell // the name is the manifest's
	Icons      []manifestIcon `json:"icons"`
}

type manifestIcon struct {
	Src     string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose"`
}

// installable are the pages that an installed program may begin with.
var installable = []string{"weekend", "kitchen", "count"}

// manifest serves the manifest of the whole service or, for a site, of the page that ?page= names. Browsers fetch it without a session:
// it has nothing of the site but its code, which the address has too.
func (p *pages) manifest(c *gin.Context) {
	v := texts.For(c.GetHeader("Accept-Language"))
	m := manifest{ID: "/", Name: "hotday", ShortName: "hotday", Lang: v.Language(), StartURL: "/", Scope: "/", Display: "standalone",
		Background: paperLight, Theme: paperLight, Icons: []manifestIcon{
			{asset("icon-192.png"), "192x192", "image/png", "any"},
			{asset("icon-512.png"), "512x512", "image/png", "any"},
			{asset("icon-maskable-512.png"), "512x512", "image/png", "maskable"},
			{asset("mark.svg"), "any", "image/svg+xml", "any"},
		}}
	if site := c.Param("site"); site != "" {
		page := c.Query("page")
		if !slices.Contains(installable, page) {
			page = installable[0]
		}
		m.StartURL = "/s/" + url.PathEscape(site) + "/" + page
		m.ID, m.Name, m.ShortName = m.StartURL, v.Say("page."+page)+" · hotday", v.Say("page."+page)
	}
	body, err := json.Marshal(m)
	if err != nil {
		p.renderError(c, err)
		return
	}
	c.Data(http.StatusOK, "application/manifest+json", body)
}

// offlinePage serves the page that the service worker shows without a network. It has nothing of the site, so anyone may have it.
func (p *pages) offlinePage(c *gin.Context) {
	h := p.publicHead(c, "door.title.offline")
	h.CSRF, h.Scripts = "", []string{"offline.js"}
	var kept []pageLink
	for _, page := range installable {
		kept = append(kept, pageLink{Page: page, Name: h.voice.Say("page." + page)})
	}
	p.render(c, http.StatusOK, "offline", struct {
		head
		Kept []pageLink
	}{h, kept})
}
