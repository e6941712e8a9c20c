package store

import (
	"database/sql"
	"errors"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"
	"gorm.io/gorm/logger"

	"hotday/models"
)

// A query starts with gorm.G[R], where R is the row model of a table: a struct with a field for each column and a method TableName,
// beside the noun that it stores. Instants are int64, Unix milliseconds; documents have the JSON serializer.

// openGORM opens GORM on a pool. Errors of every query say when the storage or the way to it is the cause.
func (sh *shared) openGORM(pool *sql.DB) (*gorm.DB, error) {
	db, err := gorm.Open(sh.dialect.gorm(pool), &gorm.Config{SkipDefaultTransaction: true, QueryFields: true, DisableAutomaticPing: true, Logger: logger.Discard})
	if err != nil {
		return nil, err
	}
	const name = "hotday:storage"
	cause := func(db *gorm.DB) {
		if db.Error != nil {
			db.Error = sh.storageError(db.Error)
		}
	}
	on := db.Callback()
	return db, errors.Join(on.Query().Register(name, cause), on.Row().Register(name, cause), on.Raw().Register(name, cause),
		on.Create().Register(name, cause), on.Update().Register(name, cause), on.Delete().Register(name, cause))
}

// replace makes Create replace the row with the same primary key; unlessKnown makes it keep that row.
var (
	replace     = clause.OnConflict{UpdateAll: true}
	unlessKnown = clause.OnConflict{DoNothing: true}
)

// ofSite is the condition that a row belongs to a site.
func ofSite(site string) func(*gorm.Statement) {
	return func(q *gorm.Statement) { q.Where("site = ?", site) }
}

// ofDates is the condition that a row is of a date from ≤ d < to.
func ofDates(from, to models.Date) func(*gorm.Statement) {
	return func(q *gorm.Statement) { q.Where("date >= ? AND date < ?", from, to) }
}

// overlapping is the condition that a row's span overlaps [from, to).
func overlapping(from, to time.Time) func(*gorm.Statement) {
	return func(q *gorm.Statement) { q.Where("from_at < ? AND to_at > ?", ms(to), ms(from)) }
}

// one returns the row of Take and whether there is one.
func one[R any](row R, err error) (R, bool, error) {
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return row, false, nil
	}
	return row, err == nil, err
}

// nouns converts rows, no rows to nil.
func nouns[R, T any](list []R, noun func(R) T) []T {
	if len(list) == 0 {
		return nil
	}
	out := make([]T, len(list))
	for i, r := range list {
		out[i] = noun(r)
	}
	return out
}

// columns are the values that Set gives to columns.
type columns map[string]any

// Assignments implements clause.Assigner.
func (c columns) Assignments() []clause.Assignment { return clause.Assignments(c) }
