package api

import (
	"context"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type eventsBody struct {
	Events []models.Event `json:"events" opt:"false" validate:"max=5000,dive"`
}

func (s *Server) putEvents(c *gin.Context) error {
	var body eventsBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.updateSite(c, liveDemand, map[string]int{"events": len(body.Events)}, []note{{models.AuditEvents, listed(body.Events, eventText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		return storeEvents(ctx, tx, setup, body.Events)
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Events))
}

func eventText(e models.Event) string { return e.Name + " " + e.From.Format(time.DateOnly) }

func storeEvents(ctx context.Context, tx models.Store, setup models.Setup, events []models.Event) error {
	var k checks
	for i, e := range events {
		k.requireOrder("/events/"+strconv.Itoa(i), e.From, e.To)
	}
	if err := k.err(); err != nil {
		return err
	}
	return tx.PutEvents(ctx, setup.Site.Code, events)
}

// deleteEvent deletes the event with exactly this start, end and name.
func (s *Server) deleteEvent(c *gin.Context) error {
	q := params(c, "from", "to", "name")
	e := models.Event{From: q.instant("from"), To: q.instant("to"), Name: q.text("name")}
	if err := q.err(); err != nil {
		return err
	}
	return s.deleteSiteEvents(c, models.SiteEvents{Events: []models.Event{e}})
}

func (s *Server) getEvents(c *gin.Context) error { return listBetween(s, c, s.Store.Events) }
