package api

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// outageNowBody is the body of POST outages/now.
type outageNowBody struct {
	Kind string     `json:"kind" validate:"oneof=brewer maker"`
	Code string     `json:"code" validate:"code"`
	From *time.Time `json:"from"` // when it failed, in the last 24 hours; null or left out: now
}

// longestReportedAfter is how long ago equipment may have failed that somebody reports as out of order now.
const longestReportedAfter = 24 * time.Hour

// postOutageNow notes that equipment is out of order from now on: until somebody says that it works again, at the latest to the end of the
// next service day. It is idempotent: equipment that is out of order already stays so.
func (s *Server) postOutageNow(c *gin.Context) error {
	var body outageNowBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	now := s.Now().UTC().Truncate(time.Millisecond)
	from := now
	if body.From != nil {
		if from = body.From.UTC(); from.After(now) || from.Before(now.Add(-longestReportedAfter)) {
			return models.Invalid("/from", "a time of the last 24 hours", "it isn't in the last 24 hours")
		}
	}
	out := models.Outage{Kind: body.Kind, Code: body.Code, From: from}
	data := map[string]int{"outages": 1}
	err := s.updateSite(c, liveStock, data, []note{{models.AuditOutages, outageText(out)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := checkEquipment(out, setup); err != nil {
			return err
		}
		current, err := outageNow(ctx, tx, setup.Site.Code, out, now)
		if err != nil {
			return err
		}
		if current != nil {
			out = *current
			return nil
		}
		out.To = setup.Site.DayEnd(setup.Site.ServiceDayOf(now).AddDays(1)).UTC()
		return s.storeOutages(ctx, tx, setup, []models.Outage{out})
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// deleteOutageNow ends an outage: the equipment works again. With mistake it never was out of order.
func (s *Server) deleteOutageNow(c *gin.Context) error {
	q := params(c, "kind", "code", "mistake")
	o, mistake := models.Outage{Kind: q.text("kind"), Code: q.text("code")}, q.boolean("mistake")
	if err := q.err(); err != nil {
		return err
	}
	now := s.Now().UTC().Truncate(time.Millisecond)
	err := s.updateSite(c, liveStock, map[string]int{"outages": 1}, []note{{models.AuditOutages, outageText(o) + ": works"}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		current, err := outageNow(ctx, tx, setup.Site.Code, o, now)
		if err != nil {
			return err
		}
		if current == nil {
			return models.Errorf(models.CodeNotFound, "%s %q is not out of order", o.Kind, o.Code)
		}
		current.To = models.Later(now, current.From) // an outage of no length is deleted
		if mistake {
			if now.Sub(current.From) > models.OutageMistake {
				return models.Errorf(models.CodeConflict, "it has been out of order for more than %d minutes: report that it works again", int(models.OutageMistake.Minutes()))
			}
			current.To = current.From
		}
		return s.storeOutages(ctx, tx, setup, []models.Outage{*current})
	})
	if err != nil {
		return err
	}
	return noContent(c)
}

// outageNow returns the outage of a piece of equipment that covers an instant; nil: it works.
func outageNow(ctx context.Context, tx models.Store, site string, of models.Outage, at time.Time) (*models.Outage, error) {
	list, err := tx.Outages(ctx, site, at, at.Add(time.Millisecond))
	if err != nil {
		return nil, err
	}
	for i := range list {
		if list[i].Kind == of.Kind && list[i].Code == of.Code {
			return &list[i], nil
		}
	}
	return nil, nil
}

// checkEquipment reports equipment that the set-up does not have.
func checkEquipment(o models.Outage, setup models.Setup) error {
	var k checks
	k.requireCode("/code", o.Code, equipmentCodes(setup)[o.Kind])
	return k.err()
}
