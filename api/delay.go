package api

import (
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/sheet"
)

// delayBody is the body of POST delay. Key is its idempotency key.
type delayBody struct {
	Minutes float64 `json:"minutes" validate:"gte=5,lte=240"`
	Key     string  `json:"key" validate:"min=1,max=200"`
}

// postDelay notes that the kitchen is behind: the rest of the date's published sheet moves. A repeated key changes nothing.
func (s *Server) postDelay(c *gin.Context) error {
	var body delayBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	delay := models.Delay{Minutes: body.Minutes, Key: body.Key, At: s.Now().UTC().Truncate(time.Millisecond)}
	var out models.PrepSheet
	err := s.Store.Within(ctx, func(tx models.Store) error {
		published, err := s.sheetIn(c, tx)
		if err != nil {
			return err
		}
		if out = published; slices.ContainsFunc(published.Delays, func(d models.Delay) bool { return d.Key == delay.Key }) {
			return nil
		}
		setup, _, err := tx.Setup(ctx, site)
		if err != nil {
			return err
		}
		if err := s.audit(c, tx, site, models.AuditDelay, string(published.Date)+": "+formatFloat(delay.Minutes)+" min"); err != nil {
			return err
		}
		out = sheet.Delayed(published, setup, delay)
		return s.publish(ctx, tx, site, []models.PrepSheet{out})
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// deleteDelay undoes the latest delay of a sheet: the sheet before it is published again. That is possible for models.DelayUndo, as long as
// no other sheet has been published for the date since.
func (s *Server) deleteDelay(c *gin.Context) error {
	q := params(c, "key")
	key := q.text("key")
	if err := q.err(); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	now := s.Now().UTC().Truncate(time.Millisecond)
	var out models.PrepSheet
	err := s.Store.Within(ctx, func(tx models.Store) error {
		published, err := s.sheetIn(c, tx)
		if err != nil {
			return err
		}
		n := len(published.Delays)
		if n == 0 || published.Delays[n-1].Key != key {
			return models.Errorf(models.CodeNotFound, "%q is not the latest delay of this sheet", key)
		}
		if out, err = tx.SheetBefore(ctx, site, published.Date); err != nil {
			return err
		}
		if len(out.Delays) != n-1 || now.Sub(published.Delays[n-1].At) > models.DelayUndo {
			return models.Errorf(models.CodeConflict, "a newer sheet has been published since, or the delay is older than %d minutes", int(models.DelayUndo.Minutes()))
		}
		if err := s.audit(c, tx, site, models.AuditUndoDelay, string(published.Date)); err != nil {
			return err
		}
		out.PublishedAt = now
		return s.publish(ctx, tx, site, []models.PrepSheet{out})
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}
