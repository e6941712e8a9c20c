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
	err := s.put(c, liveDemand, map[string]any{"weather": body.Kind, "hours": len(body.Hours)}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		return tx.PutWeather(ctx, c.Param("site"), body)
	})
	if err != nil {
		return err
	}
	return answerStored(c, len(body.Hours))
}

// getWeather answers for each hour what was observed, else the newest forecast; ?known asks what was known at an instant.
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
	return answerPart(c, rows, p)
}
