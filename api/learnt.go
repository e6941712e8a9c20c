package api

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/facts"
)

// getLearnt returns the physics of the shop as its marks and counts show it.
func (s *Server) getLearnt(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "now")
	now := q.time("now", setup.Site.Location(), s.Now())
	if err := q.err(); err != nil {
		return err
	}
	out, err := facts.LearntShop(ctx, s.Store, site, now)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// useBody names the value that the caller has seen suggested.
type useBody struct {
	Value float64 `json:"value"`
}

// postUse takes a suggested change of the set-up.
func (s *Server) postUse(c *gin.Context) error {
	var body useBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	change, err := s.useLearnt(c, c.Param("site"), c.Param("id"), body.Value)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusCreated, change)
}

// postUndo undoes the latest change of a value.
func (s *Server) postUndo(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	change, err := s.undoLearnt(c, c.Param("site"), c.Param("id"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, change)
}

// useLearnt changes the set-up as the value with an ID suggests, and keeps the old values. CodeConflict if something else than value is
// suggested by now.
func (s *Server) useLearnt(c *gin.Context, site, id string, value float64) (models.LearntChange, error) {
	ctx := c.Request.Context()
	list, err := facts.LearntShop(ctx, s.Store, site, s.Now())
	if err != nil {
		return models.LearntChange{}, err
	}
	i := slices.IndexFunc(list.Values, func(v models.LearntValue) bool { return v.ID == id })
	if i < 0 {
		return models.LearntChange{}, models.Errorf(models.CodeNotFound, "nothing is known about %q", id)
	}
	v := &list.Values[i]
	if v.Change == nil || math.Abs(v.Change.Value-value) > 1e-9*math.Abs(value) {
		return models.LearntChange{}, models.Errorf(models.CodeConflict, "this is no longer suggested: read the suggestions again")
	}
	caller, _ := callerToken(c)
	change := models.LearntChange{Of: id, Value: v.Change.Value, SetUp: v.SetUp, Unit: v.Unit, Set: v.Change.Set, At: s.Now(), By: caller.Name}
	err = s.changeFields(c, site, change.Set, func(ctx context.Context, tx models.Store) error {
		if change, err = tx.AddLearntChange(ctx, site, change); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditUseLearnt, changeText(&change))
	})
	return change, err
}

// undoLearnt sets the values back that the latest change of a value replaced. CodeConflict if they were changed since.
func (s *Server) undoLearnt(c *gin.Context, site, id string) (models.LearntChange, error) {
	ctx := c.Request.Context()
	list, err := s.Store.LearntChanges(ctx, site)
	if err != nil {
		return models.LearntChange{}, err
	}
	i := slices.IndexFunc(list, func(x models.LearntChange) bool { return x.Of == id && x.UndoneAt == nil })
	if i < 0 {
		return models.LearntChange{}, models.Errorf(models.CodeNotFound, "%q has no change to undo", id)
	}
	change := list[i]
	caller, _ := callerToken(c)
	change.UndoneAt, change.UndoneBy = new(s.Now()), caller.Name
	return change, s.changeFields(c, site, models.Undone(change.Set), func(ctx context.Context, tx models.Store) error {
		if err := tx.UndoLearntChange(ctx, site, change.ID, change.UndoneBy, *change.UndoneAt); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditUndoLearnt, changeText(&change))
	})
}

// changeFields changes fields of a set-up as an edit of the set-up does, together with an effect.
func (s *Server) changeFields(c *gin.Context, site string, fields []models.LearntField, effect func(context.Context, models.Store) error) error {
	asStored := func(stored string) (string, error) {
		if stored == "" {
			return "", siteNotFound(site)
		}
		return stored, nil
	}
	_, _, err := s.storeSetup(c, site, asStored, func(now models.Setup) (models.Setup, error) { return now.WithFields(fields) }, effect)
	return err
}

// changeText is a change as the activity log says it: "ice_machine:Bar maker 38.2 → 31 kg/day".
func changeText(c *models.LearntChange) string {
	short := func(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }
	return fmt.Sprintf("%s %s → %s %s", c.Of, short(c.SetUp), short(c.Value), c.Unit)
}
