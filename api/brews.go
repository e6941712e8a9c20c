package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type measuredBrewsBody struct {
	Rows []models.MeasuredBrew `json:"rows" opt:"false" validate:"max=200,dive"`
}

// putMeasuredBrews stores weighed brews with the caller as their author.
func (s *Server) putMeasuredBrews(c *gin.Context) error {
	var body measuredBrewsBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	ctx, site := c.Request.Context(), c.Param("site")
	err := s.Store.Within(ctx, func(tx models.Store) error {
		setup, _, err := tx.Setup(ctx, site)
		if err != nil {
			return err
		}
		var k checks
		coffees := codeSetOf("coffee", setup.Coffees, func(c models.Coffee) string { return c.Code })
		for i := range body.Rows {
			k.requireCode("/rows/"+strconv.Itoa(i)+"/coffee", body.Rows[i].Coffee, coffees)
			body.Rows[i].By = caller.Name
		}
		if err := k.err(); err != nil {
			return err
		}
		if err := tx.PutMeasuredBrews(ctx, site, body.Rows); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditMeasureBrews, listed(body.Rows, func(b models.MeasuredBrew) string { return b.Coffee }))
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

// getMeasuredBrews lists the brews of a coffee, oldest first.
func (s *Server) getMeasuredBrews(c *gin.Context) error {
	q := params(c, "coffee")
	coffee := q.text("coffee")
	if coffee == "" {
		q.invalid("coffee", "the code of a coffee", "it is missing")
	}
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.MeasuredBrews(c.Request.Context(), c.Param("site"), coffee)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, measuredBrewsBody{append([]models.MeasuredBrew{}, rows...)})
}

// deleteMeasuredBrew deletes a brew that was entered by mistake.
func (s *Server) deleteMeasuredBrew(c *gin.Context) error {
	q := params(c, "coffee", "at")
	coffee, at := q.text("coffee"), q.instant("at")
	if err := q.err(); err != nil {
		return err
	}
	ctx := c.Request.Context()
	err := s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.DeleteMeasuredBrew(ctx, c.Param("site"), coffee, at); err != nil {
			return err
		}
		return s.audit(c, tx, c.Param("site"), models.AuditMeasureBrews, "– "+coffee)
	})
	if err != nil {
		return err
	}
	return noContent(c)
}
