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

// postHeat stores how hot a manager expects a day to become, as a weather forecast of this moment, and orders a plan with it: form fields
// "date" and "high".
func (p *pages) postHeat(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	loc := setup.Site.Location()
	var date models.Date
	if err := date.UnmarshalText([]byte(c.PostForm("date"))); err != nil {
		p.renderError(c, models.Invalid("/date", "a date such as 2026-07-11", "%q is none", c.PostForm("date")))
		return
	}
	high, err := h.voice.ReadTemp(c.PostForm("high"))
	if err != nil || high < coldestHigh || high > hottestHigh {
		p.renderWeekend(c, http.StatusUnprocessableEntity, h, setup, h.voice.Say("weekend.bad_high", "typed", c.PostForm("high")))
		return
	}
	ctx, site := c.Request.Context(), setup.Site.Code
	known, err := weatherHours(ctx, p.Store, site, date.At(0, loc), date.AddDays(1).At(0, loc), p.Now())
	if err != nil {
		p.renderError(c, err)
		return
	}
	post := models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: p.Now(), Hours: models.HoursUpTo(known, date, loc, high)}
	if err := p.SaveWeather(c, post); err != nil {
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
