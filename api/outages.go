package api

import (
	"context"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type outagesBody struct {
	Rows []models.Outage `json:"rows" opt:"false" validate:"max=5000,dive"`
}

type attentionBody struct {
	Rows []models.Attention `json:"rows" opt:"false" validate:"max=5000,dive"`
}

// putOutages stores times when equipment is out of order, and queues a replan.
func (s *Server) putOutages(c *gin.Context) error {
	var body outagesBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.updateSite(c, liveStock, map[string]int{"outages": len(body.Rows)}, []note{{models.AuditOutages, listed(body.Rows, outageText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return s.storeOutages(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

func (s *Server) storeOutages(ctx context.Context, tx models.Store, setup models.Setup, rows []models.Outage) error {
	if err := checkOutages(rows, setup); err != nil {
		return err
	}
	if err := tx.PutOutages(ctx, setup.Site.Code, rows); err != nil {
		return err
	}
	return s.queueReplan(ctx, tx, setup.Site.Code)
}

// equipmentCodes are the codes of the equipment that may be out of order, by the kind of outage.
func equipmentCodes(setup models.Setup) map[string]codeSet {
	return map[string]codeSet{
		models.OutageBrewer: codeSetOf("brewer", setup.Brewers, func(b models.Brewer) string { return b.Code }),
		models.OutageMaker:  codeSetOf("ice maker", setup.Ice.Makers, func(m models.IceMaker) string { return m.Code }),
		"mould":             codeSetOf("mould set", setup.Ice.Moulds, func(m models.MouldSet) string { return m.Code }),
	}
}

func checkOutages(rows []models.Outage, setup models.Setup) error {
	among := equipmentCodes(setup)
	var k checks
	for i, o := range rows {
		at := "/rows/" + strconv.Itoa(i)
		if list, ok := among[o.Kind]; ok {
			k.requireCode(at+"/code", o.Code, list)
		}
		k.requireNotBefore(at, o.From, o.To)
	}
	return k.err()
}

func outageText(o models.Outage) string { return o.Kind + " " + o.Code }

func attentionText(a models.Attention) string { return spanText(a.From, a.To) }

// spanText is a span as the activity log shows it.
func spanText(from, to time.Time) string {
	return from.Format("2006-01-02 15:04") + " – " + to.Format("2006-01-02 15:04")
}

func (s *Server) getOutages(c *gin.Context) error { return listBetween(s, c, s.Store.Outages) }

func (s *Server) putAttention(c *gin.Context) error {
	var body attentionBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.updateSite(c, liveStock, map[string]int{"attention": len(body.Rows)}, []note{{models.AuditAttention, listed(body.Rows, attentionText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return storeAttention(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

func storeAttention(ctx context.Context, tx models.Store, setup models.Setup, rows []models.Attention) error {
	var k checks
	for i, a := range rows {
		k.requireNotBefore("/rows/"+strconv.Itoa(i), a.From, a.To)
	}
	if err := k.err(); err != nil {
		return err
	}
	return tx.PutAttention(ctx, setup.Site.Code, rows)
}

func (s *Server) getAttention(c *gin.Context) error { return listBetween(s, c, s.Store.Attention) }
