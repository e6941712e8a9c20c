package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// pairingPage is public: a new wall screen shows its pairing code there. A paired screen is redirected to the kitchen page.
func (p *pages) pairingPage(c *gin.Context) {
	if t, ok := p.Current(c); ok && t.Kind == models.TokenScreen {
		c.Redirect(http.StatusSeeOther, "/kitchen")
		return
	}
	h := p.publicHead(c, "screen.title")
	h.Scripts = []string{"screen.js"}
	p.render(c, http.StatusOK, "screen", struct {
		head
		Host    string
		Minutes int
	}{h, c.Request.Host, int(models.PairingTime.Minutes())})
}
