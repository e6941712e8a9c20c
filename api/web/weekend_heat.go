package web

import (
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

// addWeather keeps the hours of weather, and when the newest forecast among them was issued.
func (st *weekendState) addWeather(rows []models.WeatherRow) {
	for i := range rows {
		r := &rows[i]
		st.weather = append(st.weather, r.WeatherHour)
		if r.Kind == models.WeatherForecast && !r.ByHand && (st.issuedAt == nil || r.IssuedAt.After(*st.issuedAt)) {
			st.issuedAt = &r.IssuedAt
		}
	}
}

// oldForecast is the age from which a forecast is marked as old: services issue one at least every six or twelve hours.
const oldForecast = 12 * time.Hour

// forecastAge is the age of the newest forecast of the plan's days, else of the one that the plan was made from, and whether it is old.
// ok is false where there is none.
func (st *weekendState) forecastAge(now time.Time) (age time.Duration, old, ok bool) {
	issued := st.issuedAt
	if issued == nil {
		issued = st.request.WeatherIssuedAt
	}
	if issued == nil {
		return 0, false, false
	}
	age = max(0, now.Sub(*issued))
	return age, age > oldForecast, true
}
