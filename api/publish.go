package api

import (
	"context"
	"net/http"
	"slices"
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

// postPublish publishes those of a plan's prep sheets that the kitchen doesn't have yet. If it has them all, nothing changes, and the
// answer has the time at which it got the last of them.
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
		for _, sheet := range sheets {
			out.Sheets, out.PublishedAt = append(out.Sheets, sheet.Date), sheet.PublishedAt
		}
		fresh := slices.DeleteFunc(slices.Clone(sheets), func(one models.PrepSheet) bool { return stands(one, before) })
		if len(fresh) == 0 {
			out.PublishedAt = publishedAt(before, sheets)
			return nil
		}
		if err := s.audit(c, tx, site, models.AuditPublish, "plan "+strconv.Itoa(plan.Revision)); err != nil {
			return err
		}
		return s.publish(ctx, tx, site, fresh)
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

// stands reports whether the kitchen has a sheet already: of the same revision, without a change since.
func stands(one models.PrepSheet, before []models.PrepSheet) bool {
	return len(one.Changes) == 0 && slices.ContainsFunc(before, func(b models.PrepSheet) bool { return b.Date == one.Date && b.Revision == one.Revision })
}

// publishedAt returns when the last of the sheets' dates was published.
func publishedAt(before, sheets []models.PrepSheet) (at time.Time) {
	for _, b := range before {
		if slices.ContainsFunc(sheets, func(one models.PrepSheet) bool { return one.Date == b.Date }) && b.PublishedAt.After(at) {
			at = b.PublishedAt
		}
	}
	return at
}

func (s *Server) publish(ctx context.Context, tx models.Store, site string, sheets []models.PrepSheet) error {
	if err := tx.PutSheets(ctx, site, sheets); err != nil {
		return err
	}
	for _, sheet := range sheets {
		if err := s.emit(ctx, tx, site, liveSheet, models.SheetPublished{Date: sheet.Date, Revision: sheet.Revision, Changes: sheet.Changes}); err != nil {
			return err
		}
	}
	return s.queueWatch(ctx, tx, site)
}
