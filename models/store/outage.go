package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutOutages replaces the span of the same kind, code and start; an empty span takes it back.
func (s *Store) PutOutages(ctx context.Context, site string, list []models.Outage) error {
	return s.change(ctx, "keep outages", site, func(t *Store, _ siteRow) error {
		for _, o := range list {
			if _, err := t.exec(ctx, "DELETE FROM outages WHERE site = ? AND from_at = ? AND kind = ? AND code = ?", site, ms(o.From), o.Kind, o.Code); err != nil {
				return err
			}
			if !o.From.Before(o.To) {
				continue
			}
			if _, err := t.exec(ctx, "INSERT INTO outages (site, from_at, kind, code, to_at) VALUES (?, ?, ?, ?, ?)",
				site, ms(o.From), o.Kind, o.Code, ms(o.To)); err != nil {
				return err
			}
		}
		return nil
	})
}

// Outages lists those overlapping [from, to), in order of time.
func (s *Store) Outages(ctx context.Context, site string, from, to time.Time) (out []models.Outage, err error) {
	type outageRow struct {
		FromAt, ToAt int64
		Kind, Code   string
	}
	err = s.atSite(ctx, "read outages", site, func(t *Store, _ siteRow) error {
		list, err := rows[outageRow](ctx, t, `SELECT from_at, to_at, kind, code FROM outages
			WHERE site = ? AND from_at < ? AND to_at > ? ORDER BY from_at, kind, code`, site, ms(to), ms(from))
		for _, r := range list {
			out = append(out, models.Outage{Kind: r.Kind, Code: r.Code, From: instant(r.FromAt), To: instant(r.ToAt)})
		}
		return err
	})
	return out, err
}

// PutAttention replaces the span of the same start; an empty span takes it back.
func (s *Store) PutAttention(ctx context.Context, site string, list []models.Attention) error {
	return s.change(ctx, "keep attention", site, func(t *Store, _ siteRow) error {
		for _, a := range list {
			if _, err := t.exec(ctx, "DELETE FROM attention WHERE site = ? AND from_at = ?", site, ms(a.From)); err != nil {
				return err
			}
			if !a.From.Before(a.To) {
				continue
			}
			if _, err := t.exec(ctx, "INSERT INTO attention (site, from_at, to_at, starts) VALUES (?, ?, ?, ?)",
				site, ms(a.From), ms(a.To), a.Starts); err != nil {
				return err
			}
		}
		return nil
	})
}

// Attention lists those overlapping [from, to), in order of time.
func (s *Store) Attention(ctx context.Context, site string, from, to time.Time) (out []models.Attention, err error) {
	type attentionRow struct {
		FromAt, ToAt int64
		Starts       int
	}
	err = s.atSite(ctx, "read attention", site, func(t *Store, _ siteRow) error {
		list, err := rows[attentionRow](ctx, t, `SELECT from_at, to_at, starts FROM attention
			WHERE site = ? AND from_at < ? AND to_at > ? ORDER BY from_at`, site, ms(to), ms(from))
		for _, r := range list {
			out = append(out, models.Attention{From: instant(r.FromAt), To: instant(r.ToAt), Starts: r.Starts})
		}
		return err
	})
	return out, err
}
