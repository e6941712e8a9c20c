package api

import (
	"context"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// saveSiteEvents deletes the events, off-sale periods, outages and unattended times in removed and stores those in added, in one
// transaction; either may be empty. The Events page uses it too. Errors in added have the pointers of the REST bodies.
func (s *Server) saveSiteEvents(c *gin.Context, removed, added models.SiteEvents) error {
	if err := models.ValidateStruct(&added); err != nil {
		return err
	}
	counts := map[string]int{}
	addCount(counts, "events", len(removed.Events)+len(added.Events))
	addCount(counts, "off_sale", len(removed.OffSale)+len(added.OffSale))
	kind := liveDemand
	if len(counts) == 0 {
		kind = liveStock
	}
	addCount(counts, "outages", len(removed.Outages)+len(added.Outages))
	addCount(counts, "attention", len(removed.Attention)+len(added.Attention))
	return s.updateSiteAndTill(c, kind, counts, notesOn(removed, added), func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := removeSiteEvents(ctx, tx, setup.Site.Code, removed); err != nil {
			return err
		}
		if err := storeEvents(ctx, tx, setup, added.Events); err != nil {
			return err
		}
		if err := storeOffSale(ctx, tx, setup, added.OffSale); err != nil {
			return err
		}
		if err := storeAttention(ctx, tx, setup, added.Attention); err != nil {
			return err
		}
		if len(removed.Outages)+len(added.Outages) == 0 {
			return nil
		}
		return s.storeOutages(ctx, tx, setup, added.Outages)
	})
}

// notesOn says in the activity log what is removed (–) and added.
func notesOn(removed, added models.SiteEvents) (out []note) {
	add := func(action, gone, come string) {
		if gone != "" {
			out = append(out, note{action, "– " + gone})
		}
		if come != "" {
			out = append(out, note{action, come})
		}
	}
	add(models.AuditEvents, listed(removed.Events, eventText), listed(added.Events, eventText))
	add(models.AuditOffSale, listed(removed.OffSale, offSaleText), listed(added.OffSale, offSaleText))
	add(models.AuditOutages, listed(removed.Outages, outageText), listed(added.Outages, outageText))
	add(models.AuditAttention, listed(removed.Attention, attentionText), listed(added.Attention, attentionText))
	return out
}

func addCount(counts map[string]int, name string, n int) {
	if n > 0 {
		counts[name] = n
	}
}

// deleteSiteEvents handles a DELETE.
func (s *Server) deleteSiteEvents(c *gin.Context, removed models.SiteEvents) error {
	if err := s.saveSiteEvents(c, removed, models.SiteEvents{}); err != nil {
		return err
	}
	return noContent(c)
}

func removeSiteEvents(ctx context.Context, tx models.Store, site string, removed models.SiteEvents) error {
	for _, e := range removed.Events {
		if err := tx.DropEvent(ctx, site, e.From, e.To, e.Name); err != nil {
			return err
		}
	}
	for _, o := range removed.OffSale {
		if err := tx.DropOffSale(ctx, site, o.Drink, o.From); err != nil {
			return err
		}
	}
	for _, o := range removed.Outages {
		o.To = o.From
		if err := tx.PutOutages(ctx, site, []models.Outage{o}); err != nil {
			return err
		}
	}
	for _, a := range removed.Attention {
		a.To = a.From
		if err := tx.PutAttention(ctx, site, []models.Attention{a}); err != nil {
			return err
		}
	}
	return nil
}
