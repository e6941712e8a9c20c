package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// marked is the answer to a mark: how the task stands now.
type marked struct {
	Task     string `json:"task"`
	State    string `json:"state"`
	Added    bool   `json:"added"`    // false: this key was known, nothing changed
	Replaced bool   `json:"replaced"` // a newer sheet does not have the task: the mark is kept and the day planned again
}

// postMark keeps what somebody says of a task. It is kept too where a newer sheet has replaced the task: what was done was done.
func (s *Server) postMark(c *gin.Context) error {
	var mark models.TaskMark
	if err := decodeValid(c, &mark); err != nil {
		return err
	}
	ctx, id := c.Request.Context(), c.Param("id")
	if mark.Task != "" && mark.Task != id {
		return models.Invalid("/task", id+", or nothing", "the address names task %q", id)
	}
	mark.Task = id
	token, _ := current(c)
	out := marked{Task: id}
	err := s.Store.Within(ctx, func(tx models.Store) error {
		site, date, task, replaced, err := tx.Task(ctx, id)
		if err != nil {
			return err
		}
		if token.Site != "" && token.Site != site {
			return models.Errorf(models.CodeNotFound, "there is no task %q", id)
		}
		out.Replaced = replaced
		if out.Added, err = tx.AddMark(ctx, site, mark, s.Now()); err != nil {
			return err
		}
		if !out.Added {
			out.State = task.State
			return nil
		}
		_, _, after, _, err := tx.Task(ctx, id)
		if err != nil {
			return err
		}
		out.State = after.State
		if err := s.tell(ctx, tx, site, liveMark, map[string]any{"task": id, "date": date, "state": after.State, "replaced": replaced}); err != nil {
			return err
		}
		if replaced || mark.AsksForReplan(task) {
			return s.replan(ctx, tx, site)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, out)
}
