package api

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// markResult is the response to a mark: the task's current state.
type markResult struct {
	Task     string `json:"task"`
	State    string `json:"state"`
	Added    bool   `json:"added"`    // false: a mark with this key was stored before, nothing changed
	Replaced bool   `json:"replaced"` // a newer sheet no longer has the task: the mark is kept and the day replanned
}

// postMark stores a mark on a task, even if a newer sheet has dropped the task: the work was done all the same.
func (s *Server) postMark(c *gin.Context) error {
	var mark models.TaskMark
	if err := decodeValid(c, &mark); err != nil {
		return err
	}
	ctx, id := c.Request.Context(), c.Param("id")
	if mark.Task != "" && mark.Task != id {
		return models.Invalid("/task", id+", or leave it out", "the path names task %q", id)
	}
	mark.Task = id
	token, _ := callerToken(c)
	out := markResult{Task: id}
	err := s.Store.Within(ctx, func(tx models.Store) error {
		site, date, task, replaced, err := tx.Task(ctx, id)
		if err != nil {
			return err
		}
		if !token.Covers(site) {
			return models.Errorf(models.CodeNotFound, "there is no task %q", id)
		}
		out.Replaced = replaced
		if err := checkLook(task, mark); err != nil {
			return err
		}
		if err := s.checkMarkTime(ctx, tx, site, date, mark); err != nil {
			return err
		}
		if out.Added, err = tx.AddMark(ctx, site, mark, s.Now()); err != nil {
			return err
		}
		if !out.Added {
			out.State = task.State
			return nil
		}
		if err := s.audit(c, tx, site, models.AuditMark, mark.State+": "+firstSentence(task.Say)); err != nil {
			return err
		}
		_, _, after, _, err := tx.Task(ctx, id)
		if err != nil {
			return err
		}
		out.State = after.State
		if task.Choice != nil && !replaced {
			if err := s.decide(ctx, tx, site, date, task, mark); err != nil {
				return err
			}
		}
		if err := s.emit(ctx, tx, site, liveMark, models.TaskMarked{Task: id, Date: date, State: after.State, Replaced: replaced}); err != nil {
			return err
		}
		if replaced || mark.NeedsReplan(task) {
			return s.queueReplan(ctx, tx, site)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// checkMarkTime refuses a mark that is ahead of the service's clock, except on a plan made with a stated now: that is its clock.
func (s *Server) checkMarkTime(ctx context.Context, tx models.Store, site string, date models.Date, mark models.TaskMark) error {
	var k checks
	if k.requireNotAhead("/at", mark.At, s.Now()); k.err() == nil {
		return nil
	}
	published, err := tx.Sheet(ctx, site, date)
	if err != nil {
		return err
	}
	plan, _, err := tx.Plan(ctx, site, published.Revision)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return err
	}
	if plan.ComputedAt.After(published.PublishedAt) { // only a stated now can be later
		return nil
	}
	return k.err()
}

// firstSentence is the beginning of a task's text, which says what it is.
func firstSentence(text string) string {
	first, _, _ := strings.Cut(text, ". ")
	return first
}
