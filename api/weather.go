package api

import (
	"context"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

func (s *Server) putWeather(c *gin.Context) error {
	var body models.WeatherPost
	if err := decode(c, &body); err != nil {
		return err
	}
	if err := body.Validate(); err != nil {
		return err
	}
	if err := s.saveWeather(c, body); err != nil {
		return err
	}
	return writeStored(c, len(body.Hours))
}

// saveWeather stores valid weather of the request's site.
func (s *Server) saveWeather(c *gin.Context, w models.WeatherPost) error {
	return s.updateSite(c, liveDemand, map[string]any{"weather": w.Kind, "hours": len(w.Hours)}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		return tx.PutWeather(ctx, c.Param("site"), w)
	})
}

// getWeather lists the observation for each hour, else the newest forecast; with ?known, as of that time.
func (s *Server) getWeather(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	loc := setup.Site.Location()
	q := params(c, "from", "to", "known", "limit", "cursor")
	from, to, known := q.time("from", loc, models.FirstInstant), q.time("to", loc, models.EndOfInstants), q.time("known", loc, time.Time{})
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.Weather(ctx, site, from, to, known)
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}
