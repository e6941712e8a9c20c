package store

import (
	"context"
	"encoding/json"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

type siteStateRow struct {
	Site    string `gorm:"primaryKey"`
	Changes int64
	CheckAt int64
	Rank    int
	Words   string
	State   string
	Lists   string
}

func (siteStateRow) TableName() string { return "site_states" }

// siteLists is the column of a record beside its state.
type siteLists struct {
	Needs  []models.SiteNeed `json:"needs"`
	Days   []models.Date     `json:"days"`
	Lots   []models.SiteLot  `json:"lots"`
	Closed []models.Date     `json:"closed"`
}

// siteChanged has the state of a site computed again from an instant on, in the transaction of a change.
func (s *Store) siteChanged(ctx context.Context, site string, from time.Time) error {
	row := siteStateRow{Site: site, Changes: 1, CheckAt: ms(from), Words: strings.ToLower(site)}
	sooner := gorm.Expr("CASE WHEN site_states.check_at < excluded.check_at THEN site_states.check_at ELSE excluded.check_at END")
	return s.db.WithContext(ctx).Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "site"}},
		DoUpdates: clause.Assignments(map[string]any{"changes": gorm.Expr("site_states.changes + 1"), "check_at": sooner})}).Create(&row).Error
}

// StaleStates returns sites whose state is to be computed, the longest waiting first.
func (s *Store) StaleStates(ctx context.Context, now time.Time, limit int) ([]models.StaleState, error) {
	var out []models.StaleState
	err := s.db.WithContext(ctx).Model(&siteStateRow{}).Select("site, changes").Where("check_at <= ?", ms(now)).Order("check_at").Limit(limit).Find(&out).Error
	return out, failed("find sites that have changed", err)
}

// PutSiteState stores a site's record.
func (s *Store) PutSiteState(ctx context.Context, of models.StaleState, r models.SiteRecord, again time.Time) error {
	state, err := json.Marshal(r.State)
	if err != nil {
		return err
	}
	lists, err := json.Marshal(siteLists{r.Needs, r.Days, r.Lots, r.Closed})
	if err != nil {
		return err
	}
	return s.change(ctx, "store the state of "+of.Site, of.Site, func(tx *Store, _ siteRow) error {
		at := gorm.Expr("CASE WHEN changes = ? THEN CAST(? AS BIGINT) ELSE check_at END", of.Changes, ms(again))
		return tx.db.WithContext(ctx).Model(&siteStateRow{}).Where("site = ?", of.Site).Updates(map[string]any{"check_at": at, "rank": r.State.Rank,
			"words": strings.ToLower(r.State.Name + " " + of.Site), "state": string(state), "lists": string(lists)}).Error
	})
}

// statesOf are the computed states of a filter.
func (s *Store) statesOf(ctx context.Context, f models.SiteStateFilter) *gorm.DB {
	return s.rowsOf(ctx, f).Where("state <> ''")
}

// SitesOf returns the codes of the sites of a filter.
func (s *Store) SitesOf(ctx context.Context, f models.SiteStateFilter) (codes []string, err error) {
	err = s.rowsOf(ctx, f).Order("site").Pluck("site", &codes).Error
	return codes, failed("list the sites", err)
}

func (s *Store) rowsOf(ctx context.Context, f models.SiteStateFilter) *gorm.DB {
	q := s.db.WithContext(ctx).Model(&siteStateRow{})
	if f.Among != nil {
		q = q.Where("site IN ?", f.Among)
	}
	if f.Group != "" {
		q = q.Where("site IN (?)", s.db.Model(&groupMemberRow{}).Select("site").Where("code = ?", f.Group))
	}
	for _, word := range strings.Fields(strings.ToLower(f.Text)) {
		q = q.Where(`words LIKE ? ESCAPE '\'`, "%"+likeStart(word)+"%")
	}
	return q
}

// SiteStates returns a page of states, the highest rank first.
func (s *Store) SiteStates(ctx context.Context, f models.SiteStateFilter, p models.Page) (models.Rows[models.SiteState], error) {
	out := models.Rows[models.SiteState]{Rows: []models.SiteState{}}
	after, err := readKeyCursor(p.Cursor, "site-states", 2)
	if err != nil {
		return out, err
	}
	q := s.statesOf(ctx, f)
	if after != nil {
		rank, err := strconv.Atoi(after[0])
		if err != nil {
			return out, models.Invalid("/cursor", "the next value of the previous page", "this is not a cursor of this list")
		}
		q = q.Where("rank < ? OR (rank = ? AND site > ?)", rank, rank, after[1])
	}
	limit := limitOf(p)
	var list []siteStateRow
	if err := q.Select("site, rank, state").Order("rank DESC, site").Limit(limit + 1).Find(&list).Error; err != nil {
		return out, failed("list the states of sites", err)
	}
	if len(list) > limit {
		list = list[:limit]
		out.Next = keyCursor("site-states", strconv.Itoa(list[limit-1].Rank), list[limit-1].Site)
	}
	for _, r := range list {
		var state models.SiteState
		if err := json.Unmarshal([]byte(r.State), &state); err != nil {
			return out, failed("read the state of "+r.Site, err)
		}
		out.Rows = append(out.Rows, state)
	}
	return out, nil
}

// SiteRecords returns all records of a filter, by code.
func (s *Store) SiteRecords(ctx context.Context, f models.SiteStateFilter) ([]models.SiteRecord, error) {
	var list []siteStateRow
	if err := s.statesOf(ctx, f).Order("site").Find(&list).Error; err != nil {
		return nil, failed("read the states of sites", err)
	}
	out := make([]models.SiteRecord, len(list))
	for i, r := range list {
		var more siteLists
		if err := json.Unmarshal([]byte(r.State), &out[i].State); err != nil {
			return nil, failed("read the state of "+r.Site, err)
		}
		if err := json.Unmarshal([]byte(r.Lists), &more); err != nil {
			return nil, failed("read the state of "+r.Site, err)
		}
		out[i].Needs, out[i].Days, out[i].Lots, out[i].Closed = more.Needs, more.Days, more.Lots, more.Closed
	}
	return out, nil
}
