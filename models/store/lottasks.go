package store

import (
	"context"
	"encoding/json"

	"hotday/models"
)

type taskRow struct{ Task string }

func (taskRow) TableName() string { return "tasks" }

// TasksOfLot returns the brew tasks of a lot for dates from ≤ d < to as they were published. Only those whose text has the lot are decoded.
func (s *Store) TasksOfLot(ctx context.Context, site, lot string, from, to models.Date) ([]models.Task, error) {
	quoted, err := json.Marshal(lot)
	if err != nil {
		return nil, err
	}
	var out []models.Task
	err = s.atSite(ctx, "read the tasks of a lot of "+site, site, func(t *Store, _ siteRow) error {
		var list []taskRow
		err := t.db.WithContext(ctx).Where("site = ? AND date >= ? AND date < ?", site, string(from), string(to)).
			Where(`task LIKE ? ESCAPE '\' AND task LIKE ? ESCAPE '\'`, `%"kind":"`+models.TaskBrew+`"%`, `%"lot":`+likeStart(string(quoted))+`%`).
			Order("date, id").Find(&list).Error
		if err != nil {
			return err
		}
		for _, r := range list {
			var task models.Task
			if err := json.Unmarshal([]byte(r.Task), &task); err != nil {
				return err
			}
			task.FillIn()
			out = append(out, task)
		}
		return nil
	})
	return out, err
}
