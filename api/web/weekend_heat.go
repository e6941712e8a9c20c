package web

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// The highest temperatures that a manager may expect, °C.
const coldestHigh, hottestHigh = -40, 60

// postHeat stores how hot a manager expects a day to become, and orders a plan with it: form fields "date" and "high". With "clear" it is as
// forecast again.
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
		if err != nil || x < coldestHigh || x > hottestHigh {
			p.renderWeekend(c, http.StatusUnprocessableEntity, h, setup, h.voice.Say("weekend.bad_high", "typed", c.PostForm("high")))
			return
		}
		high = &x
	}
	if err := p.SaveHigh(c, date, high); err != nil {
		p.renderError(c, err)
		return
	}
	p.planAgain(c, setup.Site, date)
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
