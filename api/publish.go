package api

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/sheet"
)

type published struct {
	Revision    int           `json:"revision"`
	PublishedAt time.Time     `json:"published_at"`
	Sheets      []models.Date `json:"sheets"`
}

// postPublish makes the prep sheets of a plan the ones that stand. Publishing what stands already changes nothing and answers
// when it was published.
func (s *Server) postPublish(c *gin.Context) error {
	if err := noFields(c); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	plan, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	out := published{Revision: plan.Revision, Sheets: []models.Date{}}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		before, err := tx.Sheets(ctx, site, plan.From.AddDays(-1), plan.From.AddDays(plan.Days+1))
		if err != nil {
			return err
		}
		sheets := sheet.PrepSheets(request, plan, before, s.Now().UTC().Truncate(time.Millisecond))
		standing := standingSince(before, sheets)
		for _, sheet := range sheets {
			out.Sheets, out.PublishedAt = append(out.Sheets, sheet.Date), sheet.PublishedAt
		}
		if !standing.IsZero() {
			out.PublishedAt = standing
			return nil
		}
		if err := s.note(c, tx, site, models.DidPublish, "plan "+strconv.Itoa(plan.Revision)); err != nil {
			return err
		}
		return s.publish(ctx, tx, site, sheets)
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}

// postSetAside puts a proposal aside: the kitchen keeps to the sheet that stands, and the same proposal is not made again.
func (s *Server) postSetAside(c *gin.Context) error {
	if err := noFields(c); err != nil {
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
		if err := s.note(c, tx, site, models.DidSetAside, "plan "+strconv.Itoa(plan.Revision)); err != nil {
			return err
		}
		return s.tell(ctx, tx, site, livePlan, map[string]any{"revision": plan.Revision, "set_aside": true})
	})
	if err != nil {
		return err
	}
	return noContent(c)
}

// standingSince returns when the sheets of this revision were published, zero unless all of them stand already.
func standingSince(before, sheets []models.PrepSheet) (at time.Time) {
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
		if err := s.tell(ctx, tx, site, liveSheet, map[string]any{"date": sheet.Date, "revision": sheet.Revision, "changes": sheet.Changes}); err != nil {
			return err
		}
	}
	return s.watch(ctx, tx, site)
}

// noFields reads the body of a request that has nothing to say: none at all, of whatever type, or an empty document.
func noFields(c *gin.Context) error {
	first := make([]byte, 1)
	n, err := io.ReadFull(c.Request.Body, first)
	if n == 0 && errors.Is(err, io.EOF) {
		return nil
	}
	c.Request.Body = io.NopCloser(io.MultiReader(bytes.NewReader(first[:n]), c.Request.Body))
	return decode(c, &struct{}{})
}
