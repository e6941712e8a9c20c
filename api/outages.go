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

// notBefore wants a span that does not end before it starts; one that ends as it starts takes a stored one back.
func (k *checks) notBefore(at string, from, to time.Time) {
	if to.Before(from) {
		k.add(at+"/to", "a time after from, "+from.Format(time.RFC3339)+"; the same time takes the span back", "%s comes before from", to.Format(time.RFC3339))
	}
}

// putOutages takes equipment away, which changes what is possible: the rest of the day is planned anew.
func (s *Server) putOutages(c *gin.Context) error {
	var body outagesBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.put(c, liveStock, map[string]int{"outages": len(body.Rows)}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return s.keepOutages(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return answerStored(c, len(body.Rows))
}

func (s *Server) keepOutages(ctx context.Context, tx models.Store, setup models.Setup, rows []models.Outage) error {
	if err := checkOutages(rows, setup); err != nil {
		return err
	}
	if err := tx.PutOutages(ctx, setup.Site.Code, rows); err != nil {
		return err
	}
	return s.replan(ctx, tx, setup.Site.Code)
}

func checkOutages(rows []models.Outage, setup models.Setup) error {
	among := map[string]known{
		"brewer": knownOf("brewer", setup.Brewers, func(b models.Brewer) string { return b.Code }),
		"maker":  knownOf("ice maker", setup.Ice.Makers, func(m models.IceMaker) string { return m.Code }),
		"mould":  knownOf("mould set", setup.Ice.Moulds, func(m models.MouldSet) string { return m.Code }),
	}
	var k checks
	for i, o := range rows {
		at := "/rows/" + strconv.Itoa(i)
		if list, ok := among[o.Kind]; ok {
			k.mustKnow(at+"/code", o.Code, list)
		}
		k.notBefore(at, o.From, o.To)
	}
	return k.err()
}

func (s *Server) getOutages(c *gin.Context) error { return between(s, c, s.Store.Outages) }

func (s *Server) putAttention(c *gin.Context) error {
	var body attentionBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.put(c, liveStock, map[string]int{"attention": len(body.Rows)}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return keepAttention(ctx, tx, setup, body.Rows)
	})
	if err != nil {
		return err
	}
	return answerStored(c, len(body.Rows))
}

func keepAttention(ctx context.Context, tx models.Store, setup models.Setup, rows []models.Attention) error {
	var k checks
	for i, a := range rows {
		k.notBefore("/rows/"+strconv.Itoa(i), a.From, a.To)
	}
	if err := k.err(); err != nil {
		return err
	}
	return tx.PutAttention(ctx, setup.Site.Code, rows)
}

func (s *Server) getAttention(c *gin.Context) error { return between(s, c, s.Store.Attention) }
