package store

import (
	"context"

	"hotday/models"
)

// PutProgress stores a job's progress and returns whether it was asked to stop since it started, or a later job has taken its place.
func (s *Store) PutProgress(ctx context.Context, site string, p models.Progress) (stop bool, err error) {
	err = s.changeAside(ctx, "store the progress of a job at "+site, site, func(t *Store, _ siteRow) error {
		requested, latest, err := row[bool](ctx, t, `INSERT INTO progress (site, kind, key, step, share, say, problem, started_at, at, stop) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, FALSE)
			ON CONFLICT (site, kind) DO UPDATE SET key = excluded.key, step = excluded.step, share = excluded.share, say = excluded.say, problem = excluded.problem, at = excluded.at,
			stop = CASE WHEN progress.started_at = excluded.started_at THEN progress.stop ELSE FALSE END, started_at = excluded.started_at
			WHERE excluded.started_at >= progress.started_at
			RETURNING stop`, site, p.Kind, p.Key, p.Step, p.Share, p.Say, p.Problem, ms(p.StartedAt), ms(p.At))
		stop = requested || !latest
		return err
	})
	return stop && err == nil, err
}

// Progress returns the progress of the site's running jobs, and of those that failed, by kind.
func (s *Store) Progress(ctx context.Context, site string) ([]models.Progress, error) {
	out := []models.Progress{}
	err := s.atSite(ctx, "read the progress of jobs at "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Kind, Key, Step, Say, Problem string
			Share                         float64
			StartedAt, At                 int64
		}](ctx, t, "SELECT kind, key, step, say, problem, share, started_at, at FROM progress WHERE site = ? ORDER BY kind", site)
		for _, r := range list {
			out = append(out, models.Progress{Kind: r.Kind, Key: r.Key, Step: r.Step, Share: r.Share, Say: r.Say, Problem: r.Problem, StartedAt: instant(r.StartedAt), At: instant(r.At)})
		}
		return err
	})
	return out, err
}

// StopWork asks the job of a kind to stop at its next step, and forgets one that failed; CodeNotFound if there is neither.
func (s *Store) StopWork(ctx context.Context, site, kind string) error {
	return s.changeAside(ctx, "stop a job at "+site, site, func(t *Store, _ siteRow) error {
		failed, err := t.exec(ctx, "DELETE FROM progress WHERE site = ? AND kind = ? AND problem <> ''", site, kind)
		if err != nil || failed > 0 {
			return err
		}
		n, err := t.exec(ctx, "UPDATE progress SET stop = TRUE WHERE site = ? AND kind = ?", site, kind)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "no %q job is running at site %q", kind, site)
		}
		return err
	})
}

// DropProgress removes the progress of a job that has ended.
func (s *Store) DropProgress(ctx context.Context, site, kind, key string) error {
	return s.changeAside(ctx, "remove the progress of a job at "+site, site, func(t *Store, _ siteRow) error {
		_, err := t.exec(ctx, "DELETE FROM progress WHERE site = ? AND kind = ? AND key = ?", site, kind, key)
		return err
	})
}
