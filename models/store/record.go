package store

import (
	"context"
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// recordRetentionDays keeps past forecasts and expected demand for a little over a year, so that a season can be compared with the
// last one.
const recordRetentionDays = 400

// expectedEntryRow is expected demand as it was stored at an instant; Expected is nil where it was withdrawn.
type expectedEntryRow struct {
	Site     string      `gorm:"primaryKey"`
	Date     models.Date `gorm:"primaryKey"`
	DayPart  string      `gorm:"primaryKey"`
	Drink    string      `gorm:"primaryKey"`
	StoredAt int64       `gorm:"primaryKey"`
	Expected *float64
	P10      *float64
	P90      *float64
}

func (expectedEntryRow) TableName() string { return "words_said" }

func (r expectedEntryRow) entry() models.ExpectedDemandEntry {
	return models.ExpectedDemandEntry{ExpectedDemand: models.ExpectedDemand{Date: r.Date, DayPart: r.DayPart, Drink: r.Drink,
		Expected: r.Expected, P10: r.P10, P90: r.P90}, StoredAt: instant(r.StoredAt)}
}

// dayForecastRow is the forecast of a day, made before it or, if Observed, from its weather as it came.
type dayForecastRow struct {
	Site     string      `gorm:"primaryKey"`
	Date     models.Date `gorm:"primaryKey"`
	SaidAt   int64
	Observed bool
	Said     string
}

func (dayForecastRow) TableName() string { return "forecasts_said" }

type trackRecordRow struct {
	Site   string             `gorm:"primaryKey"`
	Record models.TrackRecord `gorm:"serializer:json"`
}

func (trackRecordRow) TableName() string { return "track_records" }

type replayRow struct {
	Site   string        `gorm:"primaryKey"`
	Replay models.Replay `gorm:"serializer:json"`
}

func (replayRow) TableName() string { return "replays" }

// logExpectedDemand adds a row to the history of expected demand.
func (s *Store) logExpectedDemand(ctx context.Context, site string, d models.ExpectedDemand, at time.Time) error {
	return gorm.G[expectedEntryRow](s.db, replace).Create(ctx, &expectedEntryRow{Site: site, Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, StoredAt: ms(at),
		Expected: d.Expected, P10: d.P10, P90: d.P90})
}

// ExpectedDemandHistory returns the history of expected demand for dates from ≤ d < to, by date and time of storing.
func (s *Store) ExpectedDemandHistory(ctx context.Context, site string, from, to models.Date) (out []models.ExpectedDemandEntry, err error) {
	err = s.atSite(ctx, "read the expected demand history of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[expectedEntryRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Order("date, stored_at, day_part, drink").Find(ctx)
		out = nouns(list, expectedEntryRow.entry)
		return err
	})
	return out, err
}

// PutDayForecasts stores the forecasts of days that have none yet, then deletes forecasts and expected demand past their retention.
func (s *Store) PutDayForecasts(ctx context.Context, site string, days []models.DayForecast) error {
	return s.changeAside(ctx, "store forecasts of "+site, site, func(t *Store, _ siteRow) error {
		newest := models.Date("")
		for _, d := range days {
			doc, err := json.Marshal(d.Rows)
			if err != nil {
				return err
			}
			if err := gorm.G[dayForecastRow](t.db, unlessKnown).Create(ctx, &dayForecastRow{Site: site, Date: d.Date, SaidAt: ms(d.MadeAt), Observed: d.Observed,
				Said: string(doc)}); err != nil {
				return err
			}
			newest = max(newest, d.Date)
		}
		if newest == "" {
			return nil
		}
		past := newest.AddDays(-recordRetentionDays)
		if _, err := gorm.G[dayForecastRow](t.db).Scopes(ofSite(site)).Where("date < ?", past).Delete(ctx); err != nil {
			return err
		}
		_, err := gorm.G[expectedEntryRow](t.db).Scopes(ofSite(site)).Where("date < ?", past).Delete(ctx)
		return err
	})
}

// DayForecasts returns the forecasts made for dates from ≤ d < to, in order.
func (s *Store) DayForecasts(ctx context.Context, site string, from, to models.Date) (out []models.DayForecast, err error) {
	err = s.atSite(ctx, "read forecasts of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[dayForecastRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Order("date").Find(ctx)
		if err != nil {
			return err
		}
		out = make([]models.DayForecast, len(list))
		for i, r := range list {
			out[i] = models.DayForecast{Date: r.Date, MadeAt: instant(r.SaidAt), Observed: r.Observed}
			if err := json.Unmarshal([]byte(r.Said), &out[i].Rows); err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}

// PutTrackRecord replaces the site's track record.
func (s *Store) PutTrackRecord(ctx context.Context, site string, r models.TrackRecord) error {
	return s.changeAside(ctx, "store the track record of "+site, site, func(t *Store, _ siteRow) error {
		return gorm.G[trackRecordRow](t.db, replace).Create(ctx, &trackRecordRow{site, r})
	})
}

// TrackRecord returns the track record; found is false if it has not been computed yet.
func (s *Store) TrackRecord(ctx context.Context, site string) (r models.TrackRecord, found bool, err error) {
	err = s.atSite(ctx, "read the track record of "+site, site, func(t *Store, _ siteRow) error {
		var stored trackRecordRow
		stored, found, err = one(gorm.G[trackRecordRow](t.db).Scopes(ofSite(site)).Take(ctx))
		r = stored.Record
		return err
	})
	return r, found && err == nil, err
}

// PutPastReplay replaces the site's latest replay.
func (s *Store) PutPastReplay(ctx context.Context, site string, r models.Replay) error {
	return s.changeAside(ctx, "store a replay of "+site, site, func(t *Store, _ siteRow) error {
		return gorm.G[replayRow](t.db, replace).Create(ctx, &replayRow{site, r})
	})
}

// PastReplay returns the latest replay; CodeNotFound if there is none.
func (s *Store) PastReplay(ctx context.Context, site string) (r models.Replay, err error) {
	err = s.atSite(ctx, "read the replay of "+site, site, func(t *Store, _ siteRow) error {
		stored, found, err := one(gorm.G[replayRow](t.db).Scopes(ofSite(site)).Take(ctx))
		if err == nil && !found {
			err = models.Errorf(models.CodeNotFound, "site %q has no replay yet", site)
		}
		r = stored.Replay
		return err
	})
	return r, err
}
