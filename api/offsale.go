package api

import (
	"context"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type offSaleBody struct {
	Rows []models.OffSale `json:"rows" opt:"false" validate:"max=5000,dive"`
}

func (s *Server) postOffSale(c *gin.Context) error {
	var body offSaleBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.put(c, liveDemand, map[string]int{"off_sale": len(body.Rows)}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return keepOffSale(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return answerStored(c, len(body.Rows))
}

func keepOffSale(ctx context.Context, tx models.Store, setup models.Setup, rows []models.OffSale) error {
	var k checks
	drinks := drinksOf(setup)
	for i, r := range rows {
		at := "/rows/" + strconv.Itoa(i)
		k.mustKnow(at+"/drink", r.Drink, drinks)
		if r.To != nil {
			k.inOrder(at, r.From, *r.To)
		}
	}
	if err := k.err(); err != nil {
		return err
	}
	return tx.PutOffSale(ctx, setup.Site.Code, rows)
}

// deleteOffSale takes back the span of a drink, for one that was said by mistake.
func (s *Server) deleteOffSale(c *gin.Context) error {
	q := params(c, "drink", "from")
	o := models.OffSale{Drink: q.text("drink"), From: q.instant("from")}
	if err := q.err(); err != nil {
		return err
	}
	return s.takeBack(c, models.Known{OffSale: []models.OffSale{o}})
}

func (s *Server) getOffSale(c *gin.Context) error { return between(s, c, s.Store.OffSale) }
