package api

import (
	"context"
	"errors"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type expectedBody struct {
	Rows []models.ExpectedDemand `json:"rows" opt:"false" validate:"max=5000,dive"`
}

func (s *Server) putExpectedDemand(c *gin.Context) error {
	var body expectedBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	if err := s.saveExpected(c, body.Rows); err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

// saveExpected stores the manager's numbers of the request's site.
func (s *Server) saveExpected(c *gin.Context, rows []models.ExpectedDemand) error {
	return s.updateSite(c, liveDemand, map[string]int{"expected": len(rows)}, []note{{models.AuditExpected, listed(rows, func(r models.ExpectedDemand) string { return string(r.Date) })}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := checkExpected(rows, setup); err != nil {
			return err
		}
		return tx.PutExpectedDemand(ctx, c.Param("site"), rows, s.Now())
	})
}

func checkExpected(rows []models.ExpectedDemand, setup models.Setup) error {
	var k checks
	parts, drinks := dayPartCodes(setup), drinkCodes(setup)
	seen := make(map[[3]string]int, len(rows))
	for i, r := range rows {
		at := "/rows/" + strconv.Itoa(i)
		k.requireCode(at+"/day_part", r.DayPart, parts)
		k.requireCode(at+"/drink", r.Drink, drinks)
		var e *models.Error
		if errors.As(r.Validate(at), &e) {
			k.fields = append(k.fields, e.Fields...)
		}
		if r.Expected == nil && (r.P10 != nil || r.P90 != nil) {
			k.add(at+"/expected", "a number with p10 and p90, or null for all three", "a range needs the expected number")
		}
		key := [3]string{string(r.Date), r.DayPart, r.Drink}
		if first, twice := seen[key]; twice {
			k.add(at, "one row per date, day part and drink", "repeats /rows/%d", first)
		}
		seen[key] = i
	}
	return k.err()
}

func (s *Server) getExpectedDemand(c *gin.Context) error {
	q := params(c, "from", "to", "limit", "cursor")
	from, to, p := q.date("from", firstDate), q.date("to", lastDate), q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.ExpectedDemand(c.Request.Context(), c.Param("site"), from, to)
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}
