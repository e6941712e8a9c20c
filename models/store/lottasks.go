package store

import (
	"context"
	"encoding/json"

	"gorm.io/gorm"

	"hotday/models"
)

// TasksOfLot returns the brew tasks of a lot for dates from ≤ d < to as they were published. Only those whose text has the lot are decoded.
func (s *Store) TasksOfLot(ctx context.Context, site, lot string, from, to models.Date) ([]models.Task, error) {
	quoted, err := json.Marshal(lot)
	if err != nil {
		return nil, err
	}
	var out []models.Task
	err = s.atSite(ctx, "read the tasks of a lot of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[taskRow](t.db).Scopes(ofSite(site), ofDates(from, to)).
			Where(`task LIKE ? ESCAPE '\' AND task LIKE ? ESCAPE '\'`, `%"kind":"`+models.TaskBrew+`"%`, `%"lot":`+likeStart(string(quoted))+`%`).
			Order("date, id").Find(ctx)
		out = nouns(list, taskRow.task)
		return err
	})
	return out, err
}
