package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// postSignOff signs off a lax setting that a warning on the Weekend page is about.
func (p *pages) postSignOff(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	value, err := strconv.ParseFloat(c.PostForm("value"), 64)
	if err != nil {
		p.renderError(c, models.Invalid("/value", "a number", "the form has no value"))
		return
	}
	x := models.SignOff{Rule: c.PostForm("rule"), Of: c.PostForm("of"), Value: value, Reason: strings.TrimSpace(c.PostForm("reason"))}
	if _, err := p.SignOff(c, setup.Site.Code, x); err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/weekend")
}
