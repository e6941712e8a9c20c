package store

import (
	"context"
	"encoding/json"
	"time"

	"hotday/models"
)

// recordRetentionDays keeps past forecasts and expected demand for a little over a year, so that a season can be compared with the
// last one.
const recordRetentionDays = 400

// logExpectedDemand adds a row to the history of expected demand.
func (s *Store) logExpectedDemand(ctx context.Context, site string, d models.ExpectedDemand, at time.Time) error {
	_, err := s.exec(ctx, `INSERT INTO words_said (site, date, day_part, drink, stored_at, expected, p10, p90) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (site, date, day_part, drink, stored_at) DO UPDATE SET expected = excluded.expected, p10 = excluded.p10, p90 = excluded.p90`,
		site, string(d.Date), d.DayPart, d.Drink, ms(at), d.Expected, d.P10, d.P90)
	return err
}

// ExpectedDemandHistory returns the history of expected demand for dates from ≤ d < to, by date and time of storing.
func (s *Store) ExpectedDemandHistory(ctx context.Context, site string, from, to models.Date) (out []models.ExpectedDemandEntry, err error) {
	err = s.atSite(ctx, "read the expected demand history of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Date, DayPart, Drink string
			StoredAt             int64
			Expected, P10, P90   *float64
		}](ctx, t, `SELECT date, day_part, drink, stored_at, expected, p10, p90 FROM words_said
			WHERE site = ? AND date >= ? AND date < ? ORDER BY date, stored_at, day_part, drink`, site, string(from), string(to))
		for _, r := range list {
			out = append(out, models.ExpectedDemandEntry{ExpectedDemand: models.ExpectedDemand{Date: models.Date(r.Date), DayPart: r.DayPart, Drink: r.Drink,
				Expected: r.Expected, P10: r.P10, P90: r.P90}, StoredAt: instant(r.StoredAt)})
		}
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
			if _, err := t.exec(ctx, `INSERT INTO forecasts_said (site, date, said_at, observed, said) VALUES (?, ?, ?, ?, ?)
				ON CONFLICT (site, date) DO NOTHING`, site, string(d.Date), ms(d.MadeAt), d.Observed, string(doc)); err != nil {
				return err
			}
			newest = max(newest, d.Date)
		}
		if newest == "" {
			return nil
		}
		for _, table := range []string{"forecasts_said", "words_said"} {
			if _, err := t.exec(ctx, "DELETE FROM "+table+" WHERE site = ? AND date < ?", site, string(newest.AddDays(-recordRetentionDays))); err != nil {
				return err
			}
		}
		return nil
	})
}

// DayForecasts returns the forecasts made for dates from ≤ d < to, in order.
func (s *Store) DayForecasts(ctx context.Context, site string, from, to models.Date) (out []models.DayForecast, err error) {
	err = s.atSite(ctx, "read forecasts of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Date     string
			SaidAt   int64
			Observed bool
			Said     string
		}](ctx, t, "SELECT date, said_at, observed, said FROM forecasts_said WHERE site = ? AND date >= ? AND date < ? ORDER BY date",
			site, string(from), string(to))
		if err != nil {
			return err
		}
		out = make([]models.DayForecast, len(list))
		for i, r := range list {
			out[i] = models.DayForecast{Date: models.Date(r.Date), MadeAt: instant(r.SaidAt), Observed: r.Observed}
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
		doc, err := json.Marshal(r)
		if err != nil {
			return err
		}
		_, err = t.exec(ctx, "INSERT INTO track_records (site, record) VALUES (?, ?) ON CONFLICT (site) DO UPDATE SET record = excluded.record",
			site, string(doc))
		return err
	})
}

// TrackRecord returns the track record; found is false if it has not been computed yet.
func (s *Store) TrackRecord(ctx context.Context, site string) (r models.TrackRecord, found bool, err error) {
	err = s.atSite(ctx, "read the track record of "+site, site, func(t *Store, _ siteRow) error {
		doc, ok, err := row[string](ctx, t, "SELECT record FROM track_records WHERE site = ?", site)
		if err != nil || !ok {
			return err
		}
		found = true
		return json.Unmarshal([]byte(doc), &r)
	})
	return r, found && err == nil, err
}

// PutPastReplay replaces the site's latest replay.
func (s *Store) PutPastReplay(ctx context.Context, site string, r models.Replay) error {
	return s.changeAside(ctx, "store a replay of "+site, site, func(t *Store, _ siteRow) error {
		doc, err := json.Marshal(r)
		if err != nil {
			return err
		}
		_, err = t.exec(ctx, "INSERT INTO replays (site, replay) VALUES (?, ?) ON CONFLICT (site) DO UPDATE SET replay = excluded.replay",
			site, string(doc))
		return err
	})
}

// PastReplay returns the latest replay; CodeNotFound if there is none.
func (s *Store) PastReplay(ctx context.Context, site string) (r models.Replay, err error) {
	err = s.atSite(ctx, "read the replay of "+site, site, func(t *Store, _ siteRow) error {
		doc, found, err := row[string](ctx, t, "SELECT replay FROM replays WHERE site = ?", site)
		if err == nil && !found {
			err = models.Errorf(models.CodeNotFound, "site %q has no replay yet", site)
		}
		if err != nil {
			return err
		}
		return json.Unmarshal([]byte(doc), &r)
	})
	return r, err
}
