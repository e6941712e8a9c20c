package api

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/sheet"
)

type publishResult struct {
	Revision    int           `json:"revision"`
	PublishedAt time.Time     `json:"published_at"`
	Sheets      []models.Date `json:"sheets"`
}

// postPublish publishes a plan's prep sheets. Publishing the same revision again changes nothing and returns the first time.
func (s *Server) postPublish(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	plan, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	out := publishResult{Revision: plan.Revision, Sheets: []models.Date{}}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		before, err := tx.Sheets(ctx, site, plan.From.AddDays(-1), plan.From.AddDays(plan.Days+1))
		if err != nil {
			return err
		}
		sheets := sheet.PrepSheets(request, plan, before, s.Now().UTC().Truncate(time.Millisecond))
		standing := alreadyPublishedAt(before, sheets)
		for _, sheet := range sheets {
			out.Sheets, out.PublishedAt = append(out.Sheets, sheet.Date), sheet.PublishedAt
		}
		if !standing.IsZero() {
			out.PublishedAt = standing
			return nil
		}
		if err := s.audit(c, tx, site, models.AuditPublish, "plan "+strconv.Itoa(plan.Revision)); err != nil {
			return err
		}
		return s.publish(ctx, tx, site, sheets)
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// postSetAside rejects a proposed plan: the published sheet stays, and the same proposal is not made again.
func (s *Server) postSetAside(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	plan, _, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.SetAside(ctx, site, plan.Revision, s.Now()); err != nil {
			return err
		}
		if err := s.audit(c, tx, site, models.AuditSetAside, "plan "+strconv.Itoa(plan.Revision)); err != nil {
			return err
		}
		return s.emit(ctx, tx, site, livePlan, map[string]any{"revision": plan.Revision, "set_aside": true})
	})
	if err != nil {
		return err
	}
	return noContent(c)
}

// alreadyPublishedAt returns when the sheets were published, zero unless all dates have this revision already.
func alreadyPublishedAt(before, sheets []models.PrepSheet) (at time.Time) {
	revisions := map[models.Date]models.PrepSheet{}
	for _, b := range before {
		revisions[b.Date] = b
	}
	for _, sheet := range sheets {
		old, ok := revisions[sheet.Date]
		if !ok || old.Revision != sheet.Revision {
			return time.Time{}
		}
		at = old.PublishedAt
	}
	return at
}

func (s *Server) publish(ctx context.Context, tx models.Store, site string, sheets []models.PrepSheet) error {
	if err := tx.PutSheets(ctx, site, sheets); err != nil {
		return err
	}
	for _, sheet := range sheets {
		if err := s.emit(ctx, tx, site, liveSheet, map[string]any{"date": sheet.Date, "revision": sheet.Revision, "changes": sheet.Changes}); err != nil {
			return err
		}
	}
	return s.queueWatch(ctx, tx, site)
}
