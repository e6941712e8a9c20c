package api

import (
	"context"

	"hotday/models"
	"hotday/planner/sheet"
)

// checkLook holds left_g to looks: a look that is made says what is left.
func checkLook(t models.Task, m models.TaskMark) error {
	switch {
	case t.Kind != models.TaskLook && m.LeftG != nil:
		return models.Invalid("/left_g", "no value", "task %q is not a look at what is left", t.ID)
	case t.Kind == models.TaskLook && m.State == models.Made && m.LeftG == nil:
		return models.Invalid("/left_g", "grams of the beverage left, with what is in ice baths", "task %q asks what is left", t.ID)
	}
	return nil
}

// decide applies the mark that now counts for a look to the published sheet: its batch gets another size, or is skipped, which can be
// undone like any other skip.
func (s *Server) decide(ctx context.Context, tx models.Store, site string, date models.Date, look models.Task, m models.TaskMark) error {
	published, err := tx.Sheet(ctx, site, date)
	if err != nil {
		return err
	}
	setup, _, err := tx.Setup(ctx, site)
	if err != nil {
		return err
	}
	marks, err := tx.Marks(ctx, site, date, date.AddDays(1))
	if err != nil {
		return err
	}
	current := models.CurrentMarks(marks)
	var left *float64
	if now, ok := current[look.ID]; ok && now.State == models.Made {
		left = now.LeftG
	}
	d := sheet.Decide(published, setup, look, left, m.At)
	if d.Brew == "" {
		return nil
	}
	if now, marked := current[d.Brew]; d.Skip != (marked && now.State == models.Skipped) {
		follows := models.TaskMark{Task: d.Brew, State: models.Due, At: m.At, Key: decidedKey(m.Key)}
		if d.Skip {
			follows.State, follows.Reason = models.Skipped, d.Why
		}
		if _, err := tx.AddMark(ctx, site, follows, s.Now()); err != nil {
			return err
		}
	}
	return s.publish(ctx, tx, site, []models.PrepSheet{d.Sheet})
}

// decidedKey is the key of the mark on a batch that follows from a mark on its look.
func decidedKey(key string) string {
	const most = 200
	key += ".look"
	return key[max(0, len(key)-most):]
}
