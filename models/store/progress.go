package store

import (
	"context"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

type progressRow struct {
	Site      string `gorm:"primaryKey"`
	Kind      string `gorm:"primaryKey"`
	Key       string
	Step      string
	Share     float64
	Say       string
	Problem   string
	StartedAt int64
	At        int64
	Stop      bool // somebody asked for it to stop
}

func (progressRow) TableName() string { return "progress" }

func (r progressRow) progress() models.Progress {
	return models.Progress{Kind: r.Kind, Key: r.Key, Step: r.Step, Share: r.Share, Say: r.Say, Problem: r.Problem, StartedAt: instant(r.StartedAt), At: instant(r.At)}
}

// furtherProgress replaces the progress of the same job, which stays asked to stop, or of an earlier one.
var furtherProgress = clause.OnConflict{
	Columns: []clause.Column{{Name: "site"}, {Name: "kind"}},
	DoUpdates: append(clause.AssignmentColumns([]string{"key", "step", "share", "say", "problem", "started_at", "at"}), columns{
		"stop": clause.Expr{SQL: "progress.stop AND progress.started_at = excluded.started_at"},
	}.Assignments()...),
	Where: clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: "excluded.started_at >= progress.started_at"}}},
}

// PutProgress stores a job's progress and returns whether it was asked to stop since it started, or a later job has taken its place.
func (s *Store) PutProgress(ctx context.Context, site string, p models.Progress) (stop bool, err error) {
	err = s.changeAside(ctx, "store the progress of a job at "+site, site, func(t *Store, _ siteRow) error {
		r := progressRow{Site: site, Kind: p.Kind, Key: p.Key, Step: p.Step, Share: p.Share, Say: p.Say, Problem: p.Problem, StartedAt: ms(p.StartedAt), At: ms(p.At)}
		stored := gorm.WithResult()
		err := gorm.G[progressRow](t.db, furtherProgress, clause.Returning{Columns: []clause.Column{{Name: "stop"}}}, stored).Create(ctx, &r)
		stop = r.Stop || stored.RowsAffected == 0
		return err
	})
	return stop && err == nil, err
}

// Progress returns the progress of the site's running jobs, and of those that failed, by kind.
func (s *Store) Progress(ctx context.Context, site string) ([]models.Progress, error) {
	out := []models.Progress{}
	err := s.atSite(ctx, "read the progress of jobs at "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[progressRow](t.db).Scopes(ofSite(site)).Order("kind").Find(ctx)
		out = append(out, nouns(list, progressRow.progress)...)
		return err
	})
	return out, err
}

// StopWork asks the job of a kind to stop at its next step, and forgets one that failed; CodeNotFound if there is neither.
func (s *Store) StopWork(ctx context.Context, site, kind string) error {
	return s.changeAside(ctx, "stop a job at "+site, site, func(t *Store, _ siteRow) error {
		failed, err := gorm.G[progressRow](t.db).Scopes(ofSite(site)).Where("kind = ? AND problem <> ?", kind, "").Delete(ctx)
		if err != nil || failed > 0 {
			return err
		}
		n, err := gorm.G[progressRow](t.db).Scopes(ofSite(site)).Where("kind = ?", kind).Update(ctx, "stop", true)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "no %q job is running at site %q", kind, site)
		}
		return err
	})
}

// DropProgress removes the progress of a job that has ended.
func (s *Store) DropProgress(ctx context.Context, site, kind, key string) error {
	return s.changeAside(ctx, "remove the progress of a job at "+site, site, func(t *Store, _ siteRow) error {
		_, err := gorm.G[progressRow](t.db).Scopes(ofSite(site)).Where("kind = ? AND key = ?", kind, key).Delete(ctx)
		return err
	})
}
