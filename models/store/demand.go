package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// expectedRow is what a manager expects now; expectedEntryRow is its history.
type expectedRow struct {
	Site     string      `gorm:"primaryKey"`
	Date     models.Date `gorm:"primaryKey"`
	DayPart  string      `gorm:"primaryKey"`
	Drink    string      `gorm:"primaryKey"`
	Expected *float64
	P10      *float64
	P90      *float64
	Note     string
	StoredAt int64
}

func (expectedRow) TableName() string { return "expected_demand" }

func (r expectedRow) expected() models.ExpectedDemand {
	return models.ExpectedDemand{Date: r.Date, DayPart: r.DayPart, Drink: r.Drink, Expected: r.Expected, P10: r.P10, P90: r.P90, Note: r.Note}
}

// PutExpectedDemand stores expected demand and logs it. A row whose Expected is nil withdraws it.
func (s *Store) PutExpectedDemand(ctx context.Context, site string, list []models.ExpectedDemand, at time.Time) error {
	return s.change(ctx, "store expected demand of "+site, site, func(t *Store, _ siteRow) error {
		for _, d := range list {
			var err error
			if d.Expected == nil {
				_, err = gorm.G[expectedRow](t.db).Scopes(ofSite(site)).Where("date = ? AND day_part = ? AND drink = ?", d.Date, d.DayPart, d.Drink).Delete(ctx)
			} else {
				err = gorm.G[expectedRow](t.db, replace).Create(ctx, &expectedRow{Site: site, Date: d.Date, DayPart: d.DayPart, Drink: d.Drink,
					Expected: d.Expected, P10: d.P10, P90: d.P90, Note: d.Note, StoredAt: ms(at)})
			}
			if err != nil {
				return err
			}
			if err := t.logExpectedDemand(ctx, site, d, at); err != nil {
				return err
			}
		}
		return nil
	})
}

// ExpectedDemand returns expected demand for dates from ≤ d < to, by date, day part and drink.
func (s *Store) ExpectedDemand(ctx context.Context, site string, from, to models.Date) (out []models.ExpectedDemand, err error) {
	err = s.atSite(ctx, "read expected demand of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[expectedRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Order("date, day_part, drink").Find(ctx)
		out = nouns(list, expectedRow.expected)
		return err
	})
	return out, err
}
