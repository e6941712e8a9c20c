package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// screen is open to everybody: a new wall screen shows its code there until a manager has typed it in. A screen that is paired
// already goes to its work.
func (p *pages) screen(c *gin.Context) {
	if t, ok := p.Current(c); ok && t.Kind == models.TokenScreen {
		c.Redirect(http.StatusSeeOther, "/kitchen")
		return
	}
	h := p.doorHead(c, "screen.title")
	h.Scripts = []string{"screen.js"}
	p.render(c, http.StatusOK, "screen", struct {
		head
		Host    string
		Minutes int
	}{h, c.Request.Host, int(models.PairingTime.Minutes())})
}
