package web

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// The highest temperatures that a manager may expect, °C.
const coldestHigh, hottestHigh = -40, 60

// postHeat stores how hot a manager expects a day to become: form fields "date" and "high". With "clear" it is as forecast again.
func (p *pages) postHeat(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	var date models.Date
	if err := date.UnmarshalText([]byte(c.PostForm("date"))); err != nil {
		p.renderError(c, models.Invalid("/date", "a date such as 2026-07-11", "%q is none", c.PostForm("date")))
		return
	}
	var high *float64
	if _, clear := c.GetPostForm("clear"); !clear {
		x, err := h.voice.ReadTemp(c.PostForm("high"))
		if err == nil && (x < coldestHigh || x > hottestHigh) {
			err = models.Invalid("/high", h.voice.WholeTemp(coldestHigh)+" to "+h.voice.WholeTemp(hottestHigh), "%s is out of range", h.voice.WholeTemp(x))
		}
		if err != nil {
			p.renderError(c, err)
			return
		}
		high = &x
	}
	if err := p.SaveHigh(c, date, high); err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/weekend?day="+string(date))
}

// weatherHours are the hours of weather between two instants as known at a third.
func weatherHours(ctx context.Context, s models.Store, site string, from, to, known time.Time) ([]models.WeatherHour, error) {
	rows, err := s.Weather(ctx, site, from, to, known)
	out := make([]models.WeatherHour, len(rows))
	for i := range rows {
		out[i] = rows[i].WeatherHour
	}
	return out, err
}
