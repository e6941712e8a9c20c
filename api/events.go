package api

import (
	"context"
	"strconv"

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
	var k checks
	for i, e := range body.Events {
		k.inOrder("/events/"+strconv.Itoa(i), e.From, e.To)
	}
	if err := k.err(); err != nil {
		return err
	}
	err := s.put(c, liveDemand, map[string]int{"events": len(body.Events)}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		return tx.PutEvents(ctx, c.Param("site"), body.Events)
	})
	if err != nil {
		return err
	}
	return answerStored(c, len(body.Events))
}

func (s *Server) getEvents(c *gin.Context) error { return between(s, c, s.Store.Events) }
