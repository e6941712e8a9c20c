package store

import (
	"context"
	"slices"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

const (
	tidyBatch    = 200 // rows removed in one transaction, for which others wait
	versionsKept = 100 // of a set-up, whatever their age: those in which changes by hand are looked for
	journalLimit = 64 << 20
)

// TidySite removes a site's old records.
func (s *Store) TidySite(ctx context.Context, site string, keep models.Keep, now time.Time) (models.Tidied, error) {
	done := models.Tidied{Removed: map[string]int64{}}
	err := failed("remove old records of "+site, func() error {
		if _, err := s.site(ctx, site); err != nil {
			return err
		}
		if err := s.tidyPlans(ctx, site, keep, now, &done); err != nil {
			return err
		}
		if err := s.tidySheets(ctx, site, keep.Before(models.KeepSheets, now), &done); err != nil {
			return err
		}
		for _, of := range []struct {
			name, statement string
			args            []any
		}{
			{models.KeepEvents, `DELETE FROM live_events WHERE site = ? AND id IN (SELECT id FROM live_events WHERE site = ? AND at < ? ORDER BY id LIMIT ?)`,
				[]any{site, site, ms(keep.Before(models.KeepEvents, now)), tidyBatch}},
			{models.KeepWarnings, `DELETE FROM warnings WHERE id IN (SELECT id FROM warnings WHERE site = ? AND opened_at < ? AND closed_at < ? LIMIT ?)`,
				[]any{site, ms(keep.Before(models.KeepWarnings, now)), ms(keep.Before(models.KeepWarnings, now)), tidyBatch}},
			{models.KeepSetups, `DELETE FROM setups WHERE site = ? AND version IN (SELECT version FROM setups WHERE site = ? AND stored_at < ?
				AND version <= (SELECT MAX(version) FROM setups WHERE site = ?) - ? ORDER BY version LIMIT ?)`,
				[]any{site, site, ms(keep.Before(models.KeepSetups, now)), site, versionsKept, tidyBatch}},
		} {
			if err := s.removeAll(ctx, of.name, &done, of.statement, of.args...); err != nil {
				return err
			}
		}
		n, err := s.compressStored(ctx, site)
		done.Compressed = n
		return err
	}())
	return done, err
}

// TidyService removes old records that belong to no site.
func (s *Store) TidyService(ctx context.Context, keep models.Keep, now time.Time) (models.Tidied, error) {
	done := models.Tidied{Removed: map[string]int64{}}
	err := failed("remove old records", func() error {
		hooks, err := s.Webhooks(ctx)
		if err != nil {
			return err
		}
		for _, w := range hooks {
			if err := s.removeAll(ctx, models.KeepDeliveries, &done, `DELETE FROM deliveries WHERE id IN (SELECT id FROM deliveries
				WHERE webhook = ? AND created_at < ? LIMIT ?)`,
				w.ID, ms(keep.Before(models.KeepDeliveries, now)), tidyBatch); err != nil {
				return err
			}
		}
		people, err := s.People(ctx)
		if err != nil {
			return err
		}
		for _, p := range people {
			old := ms(keep.Before(models.KeepDeliveries, now))
			if err := s.removeAll(ctx, models.KeepDeliveries, &done, "DELETE FROM mails WHERE id IN (SELECT id FROM mails WHERE person = ? AND created_at < ? LIMIT ?)",
				p.ID, old, tidyBatch); err != nil {
				return err
			}
			if err := s.removeAll(ctx, models.KeepDeliveries, &done, "DELETE FROM pushes WHERE id IN (SELECT id FROM pushes WHERE person = ? AND created_at < ? LIMIT ?)",
				p.ID, old, tidyBatch); err != nil {
				return err
			}
			old = ms(keep.Before(models.KeepWarnings, now)) // before, they say what has been sent
			if err := s.removeAll(ctx, models.KeepDeliveries, &done, `DELETE FROM mailed_warnings WHERE person = ? AND (warning, grade) IN
				(SELECT warning, grade FROM mailed_warnings WHERE person = ? AND at < ? LIMIT ?)`, p.ID, p.ID, old, tidyBatch); err != nil {
				return err
			}
			if err := s.removeAll(ctx, models.KeepDeliveries, &done, `DELETE FROM pushed_warnings WHERE (device, warning, grade) IN (SELECT w.device, w.warning, w.grade
				FROM push_devices d JOIN pushed_warnings w ON w.device = d.id WHERE d.person = ? AND w.at < ? LIMIT ?)`, p.ID, old, tidyBatch); err != nil {
				return err
			}
		}
		return s.removeAll(ctx, models.KeepActivity, &done, "DELETE FROM audit WHERE id IN (SELECT id FROM audit WHERE at < ? LIMIT ?)",
			ms(keep.Before(models.KeepActivity, now)), tidyBatch)
	}())
	return done, err
}

// removeAll runs a statement that removes at most tidyBatch rows until it finds no more.
func (s *Store) removeAll(ctx context.Context, name string, done *models.Tidied, statement string, args ...any) error {
	for {
		var n int64
		err := s.within(ctx, func(tx *Store) (err error) {
			n, err = tx.exec(ctx, statement, args...)
			return err
		})
		done.Removed[name] += n
		if err != nil || n < tidyBatch {
			return err
		}
	}
}

// tidyPlans removes plan revisions. The latest stays, since the next one's number follows from it.
func (s *Store) tidyPlans(ctx context.Context, site string, keep models.Keep, now time.Time, done *models.Tidied) error {
	old, published := ms(keep.Before(models.KeepPlans, now)), ms(keep.Before(models.KeepPublished, now))
	list, err := gorm.G[headRow](s.db).Scopes(ofSite(site)).Where("stored_at < ?", max(old, published)).
		Where("revision < (?)", s.db.Model(headRow{}).Select("MAX(revision)").Where("site = ?", site)).Order("revision").Find(ctx)
	if err != nil {
		return err
	}
	var current []int
	if err := s.db.WithContext(ctx).Model(sheetRow{}).Where("site = ?", site).Where(currentSheet).Distinct().Pluck("revision", &current).Error; err != nil {
		return err
	}
	slices.Sort(current)
	remove := map[string][]int{}
	for _, r := range list {
		name, before := models.KeepPlans, old
		if _, ok := slices.BinarySearch(current, r.Revision); ok {
			name, before = models.KeepPublished, published
		}
		if r.StoredAt < before {
			remove[name] = append(remove[name], r.Revision)
		}
	}
	for name, revisions := range remove {
		for some := range slices.Chunk(revisions, tidyBatch/10) { // each is several pages
			if err := s.within(ctx, func(tx *Store) error {
				if _, err := gorm.G[planDocumentRow](tx.db).Scopes(ofSite(site)).Where("revision IN ?", some).Delete(ctx); err != nil {
					return err
				}
				n, err := gorm.G[headRow](tx.db).Scopes(ofSite(site)).Where("revision IN ?", some).Delete(ctx)
				done.Removed[name] += int64(n)
				return err
			}); err != nil {
				return err
			}
		}
	}
	return nil
}

// tidySheets removes replaced sheets and the tasks that only they had. A marked task stays, and the sheet that it was on: what was done
// remains known.
func (s *Store) tidySheets(ctx context.Context, site string, before time.Time, done *models.Tidied) error {
	day := before.UTC().Format(time.DateOnly)
	var old []int64
	err := s.db.WithContext(ctx).Model(sheetRow{}).Where("site = ? AND date < ? AND published_at < ?", site, day, ms(before)).Not(currentSheet).
		Order("id").Pluck("id", &old).Error
	if err != nil {
		return err
	}
	for some := range slices.Chunk(old, tidyBatch/10) {
		if err := s.within(ctx, func(tx *Store) error {
			marked := tx.db.Model(markRow{}).Select("1").Where("task_marks.task = tasks.id")
			if _, err := gorm.G[taskRow](tx.db).Where("sheet_id IN ?", some).Where("NOT EXISTS (?)", marked).Delete(ctx); err != nil {
				return err
			}
			kept := tx.db.Model(taskRow{}).Select("1").Where("tasks.sheet_id = sheets.id")
			n, err := gorm.G[sheetRow](tx.db).Where("id IN ?", some).Where("NOT EXISTS (?)", kept).Delete(ctx)
			done.Removed[models.KeepSheets] += int64(n)
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}
