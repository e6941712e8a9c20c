package store

import (
	"context"

	"gorm.io/gorm"

	"hotday/models"
)

type forecastStateRow struct {
	Site    string `gorm:"primaryKey"`
	MadeAt  int64
	Through models.Date
	Learnt  []byte
	Past    []byte
}

func (forecastStateRow) TableName() string { return "forecast_states" }

// PutForecastState replaces a site's fitted forecast.
func (s *Store) PutForecastState(ctx context.Context, site string, f models.ForecastState) error {
	return s.change(ctx, "store the forecast state of "+site, site, func(t *Store, _ siteRow) error {
		return gorm.G[forecastStateRow](t.db, replace).Create(ctx, &forecastStateRow{Site: site, MadeAt: ms(f.MadeAt), Through: f.Through, Learnt: f.Learnt, Past: f.Past})
	})
}

// ForecastState returns a site's fitted forecast, the zero value if there is none.
func (s *Store) ForecastState(ctx context.Context, site string) (models.ForecastState, error) {
	var out models.ForecastState
	err := s.atSite(ctx, "read the forecast state of "+site, site, func(t *Store, _ siteRow) error {
		r, found, err := one(gorm.G[forecastStateRow](t.db).Scopes(ofSite(site)).Take(ctx))
		if found {
			out = models.ForecastState{MadeAt: instant(r.MadeAt), Through: r.Through, Learnt: r.Learnt, Past: r.Past}
		}
		return err
	})
	return out, err
}
