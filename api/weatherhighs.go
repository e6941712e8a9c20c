package api

import (
	"context"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// highRow is how hot a manager expects a date to become; HighC null: as forecast.
type highRow struct {
	Date  models.Date `json:"date"`
	HighC *float64    `json:"high_c" opt:"null" validate:"omitempty,gte=-60,lte=60"` // null: as forecast
}

type highsBody struct {
	Rows []highRow `json:"rows" opt:"false" validate:"max=366,dive"`
}

func (s *Server) putWeatherHighs(c *gin.Context) error {
	var body highsBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	if err := s.saveHighs(c, body.Rows); err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

// saveHighs stores highs of the request's site.
func (s *Server) saveHighs(c *gin.Context, list []highRow) error {
	return s.updateSite(c, liveDemand, map[string]int{"highs": len(list)}, []note{{models.AuditHigh, listed(list, highText)}}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		for _, h := range list {
			if err := tx.PutWeatherHigh(ctx, c.Param("site"), h.Date, h.HighC, s.Now()); err != nil {
				return err
			}
		}
		return nil
	})
}

func highText(h highRow) string {
	if h.HighC == nil {
		return string(h.Date) + ": –"
	}
	return string(h.Date) + ": " + formatFloat(*h.HighC) + " °C"
}

// saveHigh stores a manager's high for a page; nil clears it.
func (s *Server) saveHigh(c *gin.Context, d models.Date, highC *float64) error {
	return s.saveHighs(c, []highRow{{Date: d, HighC: highC}})
}

func (s *Server) getWeatherHighs(c *gin.Context) error {
	q := params(c, "from", "to", "limit", "cursor")
	from, to, p := q.date("from", firstDate), q.date("to", lastDate), q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.WeatherHighs(c.Request.Context(), c.Param("site"), from, to)
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}
