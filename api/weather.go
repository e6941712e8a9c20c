package api

import (
	"context"
	"net/http"
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
	err := s.updateSite(c, liveDemand, map[string]any{"weather": body.Kind, "hours": len(body.Hours)}, nil, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		if err := s.auditDaily(c, tx, c.Param("site"), models.AuditWeather, body.Kind); err != nil {
			return err
		}
		return tx.PutWeather(ctx, c.Param("site"), body)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Hours))
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

// weatherSourceState is the state of fetching the site's forecast from its source.
type weatherSourceState struct {
	Source string `json:"source"`
	models.WeatherFetch
}

func (s *Server) getWeatherFetch(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	if err := params(c).err(); err != nil {
		return err
	}
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	f, err := s.Store.WeatherFetch(ctx, site)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, weatherSourceState{setup.Site.ForecastSource(), f})
}
