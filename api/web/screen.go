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
	p.render(c, http.StatusOK, "screen", struct {
		head
		Host    string
		Minutes int
	}{head{Title: "Pair this screen · hotday", CSRF: p.CSRF(c), Scripts: []string{"screen.js"}}, c.Request.Host, int(models.PairingTime.Minutes())})
}
