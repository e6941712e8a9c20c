package store

import (
	"context"

	"hotday/models"
)

// PutForecastState replaces a site's fitted forecast.
func (s *Store) PutForecastState(ctx context.Context, site string, f models.ForecastState) error {
	return s.change(ctx, "store the forecast state of "+site, site, func(t *Store, _ siteRow) error {
		_, err := t.exec(ctx, `INSERT INTO forecast_states (site, made_at, through, learnt, past) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (site) DO UPDATE SET made_at = excluded.made_at, through = excluded.through, learnt = excluded.learnt, past = excluded.past`,
			site, ms(f.MadeAt), string(f.Through), f.Learnt, f.Past)
		return err
	})
}

// ForecastState returns a site's fitted forecast, the zero value if there is none.
func (s *Store) ForecastState(ctx context.Context, site string) (models.ForecastState, error) {
	var out models.ForecastState
	err := s.atSite(ctx, "read the forecast state of "+site, site, func(t *Store, _ siteRow) error {
		r, found, err := row[struct {
			MadeAt       int64
			Through      string
			Learnt, Past []byte
		}](ctx, t, "SELECT made_at, through, learnt, past FROM forecast_states WHERE site = ?", site)
		if found {
			out = models.ForecastState{MadeAt: instant(r.MadeAt), Through: models.Date(r.Through), Learnt: r.Learnt, Past: r.Past}
		}
		return err
	})
	return out, err
}
