package web

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// ofHTTP are the statuses of problem types for which models has no code.
var ofHTTP = map[string]int{
	"method_not_allowed":     http.StatusMethodNotAllowed,
	"not_acceptable":         http.StatusNotAcceptable,
	"unsupported_media_type": http.StatusUnsupportedMediaType,
	"not_ready":              http.StatusServiceUnavailable,
	"cancelled":              http.StatusServiceUnavailable,
}

// problemTypes are the statuses of all problem types (RFC 9457).
func problemTypes() map[string]int {
	all := map[string]int{}
	for name, status := range ofHTTP {
		all[name] = status
	}
	for _, code := range models.Codes() {
		all[string(code)] = code.Status()
	}
	return all
}

// problemPage explains a problem type to whoever follows its address from a problem document.
func (p *pages) problemPage(c *gin.Context) {
	name := c.Param("type")
	status, known := problemTypes()[name]
	if !known {
		p.renderError(c, models.Errorf(models.CodeNotFound, "there is no problem type %q", name))
		return
	}
	h := p.publicHead(c, "problems.title."+name)
	h.CSRF = ""
	p.render(c, http.StatusOK, "problems", struct {
		head
		Status           int
		Type, About, Fix string
	}{h, status, "/problems/" + name, h.voice.Say("problems.about." + name), h.voice.Say("problems.fix." + name)})
}
