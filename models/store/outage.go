package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutOutages stores outages; an empty span deletes the stored one.
func (s *Store) PutOutages(ctx context.Context, site string, list []models.Outage) error {
	return s.change(ctx, "store outages of "+site, site, func(t *Store, _ siteRow) error {
		for _, o := range list {
			var err error
			if o.To.Equal(o.From) {
				_, err = t.exec(ctx, "DELETE FROM outages WHERE site = ? AND from_at = ? AND kind = ? AND code = ?", site, ms(o.From), o.Kind, o.Code)
			} else {
				_, err = t.exec(ctx, `INSERT INTO outages (site, from_at, kind, code, to_at) VALUES (?, ?, ?, ?, ?)
					ON CONFLICT (site, from_at, kind, code) DO UPDATE SET to_at = excluded.to_at`, site, ms(o.From), o.Kind, o.Code, ms(o.To))
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// Outages returns the outages that overlap [from, to), by start.
func (s *Store) Outages(ctx context.Context, site string, from, to time.Time) ([]models.Outage, error) {
	var out []models.Outage
	err := s.atSite(ctx, "read outages of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Kind, Code   string
			FromAt, ToAt int64
		}](ctx, t, `SELECT kind, code, from_at, to_at FROM outages WHERE site = ? AND from_at < ? AND to_at > ?
			ORDER BY from_at, kind, code`, site, ms(to), ms(from))
		for _, o := range list {
			out = append(out, models.Outage{Kind: o.Kind, Code: o.Code, From: instant(o.FromAt), To: instant(o.ToAt)})
		}
		return err
	})
	return out, err
}

// PutAttention stores spans with their starts per slot; an empty span deletes the stored one.
func (s *Store) PutAttention(ctx context.Context, site string, list []models.Attention) error {
	return s.change(ctx, "store attention of "+site, site, func(t *Store, _ siteRow) error {
		for _, a := range list {
			var err error
			if a.To.Equal(a.From) {
				_, err = t.exec(ctx, "DELETE FROM attention WHERE site = ? AND from_at = ?", site, ms(a.From))
			} else {
				_, err = t.exec(ctx, `INSERT INTO attention (site, from_at, to_at, starts) VALUES (?, ?, ?, ?)
					ON CONFLICT (site, from_at) DO UPDATE SET to_at = excluded.to_at, starts = excluded.starts`, site, ms(a.From), ms(a.To), a.Starts)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// Attention returns the spans that overlap [from, to), by start.
func (s *Store) Attention(ctx context.Context, site string, from, to time.Time) ([]models.Attention, error) {
	var out []models.Attention
	err := s.atSite(ctx, "read attention of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			FromAt, ToAt int64
			Starts       int
		}](ctx, t, "SELECT from_at, to_at, starts FROM attention WHERE site = ? AND from_at < ? AND to_at > ? ORDER BY from_at", site, ms(to), ms(from))
		for _, a := range list {
			out = append(out, models.Attention{From: instant(a.FromAt), To: instant(a.ToAt), Starts: a.Starts})
		}
		return err
	})
	return out, err
}
