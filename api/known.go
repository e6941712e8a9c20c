package api

import (
	"context"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// saveKnown takes back what was said of the days and says other things in its place, all or nothing; either may be empty. A page
// does it. The pointers of what is wrong with said are those of the bodies of the programming interface.
func (s *Server) saveKnown(c *gin.Context, gone, said models.Known) error {
	if err := models.ValidateStruct(&said); err != nil {
		return err
	}
	told := map[string]int{}
	count(told, "events", len(gone.Events)+len(said.Events))
	count(told, "off_sale", len(gone.OffSale)+len(said.OffSale))
	kind := liveDemand
	if len(told) == 0 {
		kind = liveStock
	}
	count(told, "outages", len(gone.Outages)+len(said.Outages))
	count(told, "attention", len(gone.Attention)+len(said.Attention))
	return s.put(c, kind, told, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := dropKnown(ctx, tx, setup.Site.Code, gone); err != nil {
			return err
		}
		if err := keepEvents(ctx, tx, setup, said.Events); err != nil {
			return err
		}
		if err := keepOffSale(ctx, tx, setup, said.OffSale); err != nil {
			return err
		}
		if err := keepAttention(ctx, tx, setup, said.Attention); err != nil {
			return err
		}
		if len(gone.Outages)+len(said.Outages) == 0 {
			return nil
		}
		return s.keepOutages(ctx, tx, setup, said.Outages)
	})
}

func count(told map[string]int, what string, n int) {
	if n > 0 {
		told[what] = n
	}
}

// takeBack is the answer of a DELETE: what was said is no longer known.
func (s *Server) takeBack(c *gin.Context, gone models.Known) error {
	if err := s.saveKnown(c, gone, models.Known{}); err != nil {
		return err
	}
	return noContent(c)
}

func dropKnown(ctx context.Context, tx models.Store, site string, gone models.Known) error {
	for _, e := range gone.Events {
		if err := tx.DropEvent(ctx, site, e.From, e.To, e.Name); err != nil {
			return err
		}
	}
	for _, o := range gone.OffSale {
		if err := tx.DropOffSale(ctx, site, o.Drink, o.From); err != nil {
			return err
		}
	}
	for _, o := range gone.Outages {
		o.To = o.From
		if err := tx.PutOutages(ctx, site, []models.Outage{o}); err != nil {
			return err
		}
	}
	for _, a := range gone.Attention {
		a.To = a.From
		if err := tx.PutAttention(ctx, site, []models.Attention{a}); err != nil {
			return err
		}
	}
	return nil
}
