package api

import (
	"context"
	"slices"
	"strconv"
	"time"

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
	err := s.updateSiteAndTill(c, liveDemand, map[string]int{"off_sale": len(body.Rows)}, []note{{models.AuditOffSale, listed(body.Rows, offSaleText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return storeOffSale(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

func offSaleText(o models.OffSale) string { return o.Drink }

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

// updateSiteAndTill is updateSite for changes that may take drinks off sale or put them back: its live event says which, so that the
// webhooks to the till are queued in the transaction of the data.
func (s *Server) updateSiteAndTill(c *gin.Context, kind string, counts map[string]int, notes []note, fn func(ctx context.Context, tx models.Store, setup models.Setup) error) error {
	data := map[string]any{}
	for k, n := range counts {
		data[k] = n
	}
	return s.updateSite(c, kind, data, notes, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		before, err := s.offSaleAhead(ctx, tx, setup.Site.Code)
		if err != nil {
			return err
		}
		if err := fn(ctx, tx, setup); err != nil {
			return err
		}
		after, err := s.offSaleAhead(ctx, tx, setup.Site.Code)
		if err != nil {
			return err
		}
		changes, err := s.saleChanges(ctx, tx, setup.Site.Code, before, after)
		if err != nil {
			return err
		}
		if len(changes.Off) > 0 {
			data["off"] = changes.Off
		}
		if len(changes.On) > 0 {
			data["on"] = changes.On
		}
		return nil
	})
}

// offSaleAhead returns the off-sale periods that are not over.
func (s *Server) offSaleAhead(ctx context.Context, tx models.Store, site string) ([]models.OffSale, error) {
	now := s.Now()
	return tx.OffSale(ctx, site, now, now.AddDate(1, 0, 0))
}

// saleChanges returns what the till must be told: a drink is off sale in each new period, and back on sale once none of a removed or
// ended period is left.
func (s *Server) saleChanges(ctx context.Context, tx models.Store, site string, before, after []models.OffSale) (out models.SaleChanges, err error) {
	same := func(a models.OffSale) func(models.OffSale) bool {
		return func(b models.OffSale) bool {
			return a.Drink == b.Drink && a.From.Equal(b.From) && (a.To == nil) == (b.To == nil) && (a.To == nil || a.To.Equal(*b.To))
		}
	}
	for _, o := range after {
		if !slices.ContainsFunc(before, same(o)) {
			out.Off = append(out.Off, models.SaleChange{Drink: o.Drink, From: o.From, To: o.To})
		}
	}
	for _, o := range before {
		if !slices.ContainsFunc(after, func(b models.OffSale) bool { return b.Drink == o.Drink && b.From.Equal(o.From) }) {
			out.On = append(out.On, models.SaleChange{Drink: o.Drink, From: models.Later(s.Now().UTC().Truncate(time.Millisecond), o.From)})
		}
	}
	if len(out.Off)+len(out.On) == 0 {
		return out, nil
	}
	mappings, err := tx.Mappings(ctx, site)
	if err != nil {
		return out, err
	}
	for _, list := range [][]models.SaleChange{out.Off, out.On} {
		for i := range list {
			list[i].Items = itemsOf(mappings, list[i].Drink)
		}
	}
	return out, nil
}

// itemsOf returns the till items that are mapped to a drink, or have been.
func itemsOf(mappings []models.ItemMapping, drink string) []models.TillItem {
	out := []models.TillItem{}
	for _, m := range mappings {
		x := models.TillItem{Source: m.Source, Item: m.Item}
		if m.Drink != nil && *m.Drink == drink && !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out
}
