package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type outageRow struct {
	Site   string `gorm:"primaryKey"`
	FromAt int64  `gorm:"primaryKey"`
	Kind   string `gorm:"primaryKey"`
	Code   string `gorm:"primaryKey"`
	ToAt   int64
}

func (outageRow) TableName() string { return "outages" }

func (r outageRow) outage() models.Outage {
	return models.Outage{Kind: r.Kind, Code: r.Code, From: instant(r.FromAt), To: instant(r.ToAt)}
}

// PutOutages stores outages; an empty span deletes the stored one.
func (s *Store) PutOutages(ctx context.Context, site string, list []models.Outage) error {
	return s.change(ctx, "store outages of "+site, site, func(t *Store, _ siteRow) error {
		for _, o := range list {
			var err error
			if o.To.Equal(o.From) {
				_, err = gorm.G[outageRow](t.db).Scopes(ofSite(site)).Where("from_at = ? AND kind = ? AND code = ?", ms(o.From), o.Kind, o.Code).Delete(ctx)
			} else {
				err = gorm.G[outageRow](t.db, replace).Create(ctx, &outageRow{Site: site, FromAt: ms(o.From), Kind: o.Kind, Code: o.Code, ToAt: ms(o.To)})
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
		list, err := gorm.G[outageRow](t.db).Scopes(ofSite(site), overlapping(from, to)).Order("from_at, kind, code").Find(ctx)
		out = nouns(list, outageRow.outage)
		return err
	})
	return out, err
}

type attentionRow struct {
	Site   string `gorm:"primaryKey"`
	FromAt int64  `gorm:"primaryKey"`
	ToAt   int64
	Starts int
}

func (attentionRow) TableName() string { return "attention" }

func (r attentionRow) attention() models.Attention {
	return models.Attention{From: instant(r.FromAt), To: instant(r.ToAt), Starts: r.Starts}
}

// PutAttention stores spans with their starts per slot; an empty span deletes the stored one.
func (s *Store) PutAttention(ctx context.Context, site string, list []models.Attention) error {
	return s.change(ctx, "store attention of "+site, site, func(t *Store, _ siteRow) error {
		for _, a := range list {
			var err error
			if a.To.Equal(a.From) {
				_, err = gorm.G[attentionRow](t.db).Scopes(ofSite(site)).Where("from_at = ?", ms(a.From)).Delete(ctx)
			} else {
				err = gorm.G[attentionRow](t.db, replace).Create(ctx, &attentionRow{Site: site, FromAt: ms(a.From), ToAt: ms(a.To), Starts: a.Starts})
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
		list, err := gorm.G[attentionRow](t.db).Scopes(ofSite(site), overlapping(from, to)).Order("from_at").Find(ctx)
		out = nouns(list, attentionRow.attention)
		return err
	})
	return out, err
}
