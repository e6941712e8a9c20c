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
	err := s.updateSite(c, liveDemand, map[string]int{"off_sale": len(body.Rows)}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return storeOffSale(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

func storeOffSale(ctx context.Context, tx models.Store, setup models.Setup, rows []models.OffSale) error {
	var k checks
	drinks := drinkCodes(setup)
	for i, r := range rows {
		at := "/rows/" + strconv.Itoa(i)
		k.requireCode(at+"/drink", r.Drink, drinks)
		if r.To != nil {
			k.requireOrder(at, r.From, *r.To)
		}
	}
	if err := k.err(); err != nil {
		return err
	}
	return tx.PutOffSale(ctx, setup.Site.Code, rows)
}

// deleteOffSale deletes an off-sale period that was entered by mistake.
func (s *Server) deleteOffSale(c *gin.Context) error {
	q := params(c, "drink", "from")
	o := models.OffSale{Drink: q.text("drink"), From: q.instant("from")}
	if err := q.err(); err != nil {
		return err
	}
	return s.deleteSiteEvents(c, models.SiteEvents{OffSale: []models.OffSale{o}})
}

func (s *Server) getOffSale(c *gin.Context) error { return listBetween(s, c, s.Store.OffSale) }
