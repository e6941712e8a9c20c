package store

import (
	"context"
	"encoding/json"
	"strings"

	"gorm.io/gorm"

	"hotday/models"
)

// siteListRow is the part of a site's row that lists need.
type siteListRow struct {
	Code         string
	Version      int64
	NamedVersion int64 // the version of the set-up that the next columns are from
	Name         string
	Search       string
}

func (siteListRow) TableName() string { return "sites" }

// searchText is what a site is searched for in, and sorted by.
func searchText(code, name string) string {
	return strings.TrimSpace(models.Folded(name + " " + code))
}

// SiteList returns a page of the sites.
func (s *Store) SiteList(ctx context.Context, f models.SiteFilter, p models.Page) (models.Rows[models.SiteSummary], error) {
	out, err := s.siteList(ctx, f, p)
	return out, failed("list the sites", err)
}

func (s *Store) siteList(ctx context.Context, f models.SiteFilter, p models.Page) (out models.Rows[models.SiteSummary], err error) {
	out.Rows = []models.SiteSummary{}
	order, list := []string{"code"}, "sites"
	if f.ByName {
		order, list = []string{"search", "code"}, "sites by name"
	}
	after, err := readKeyCursor(p.Cursor, list, len(order))
	if err != nil {
		return out, err
	}
	limit := limitOf(p)
	q := s.db.WithContext(ctx).Model(siteListRow{}).Scopes(matching(f)).Order(strings.Join(order, ", ")).Limit(limit + 1)
	switch {
	case after != nil && f.ByName:
		q = q.Where("(search, code) > (?, ?)", after[0], after[1])
	case after != nil:
		q = q.Where("code > ?", after[0])
	}
	var found []siteListRow
	if err := q.Find(&found).Error; err != nil {
		return out, err
	}
	for i, r := range found {
		if i == limit {
			last := found[i-1]
			key := []string{last.Code}
			if f.ByName {
				key = []string{last.Search, last.Code}
			}
			out.Next = keyCursor(list, key...)
			break
		}
		out.Rows = append(out.Rows, models.SiteSummary{Code: r.Code, Name: r.Name})
	}
	return out, nil
}

// matching selects the sites of a filter.
func matching(f models.SiteFilter) func(*gorm.DB) *gorm.DB {
	return func(q *gorm.DB) *gorm.DB {
		if f.Sites != nil {
			q = q.Where("code IN ?", f.Sites)
		}
		for _, word := range strings.Fields(models.Folded(f.Search)) {
			q = q.Where(`search LIKE ? ESCAPE '\'`, "%"+likeLiteral.Replace(word)+"%")
		}
		return q
	}
}

// likeLiteral escapes what LIKE takes for a pattern.
var likeLiteral = strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`)

// nameSites fills the columns of lists where they are not from the current set-up.
func (s *Store) nameSites(ctx context.Context) error {
	var stale int64
	if err := s.db.WithContext(ctx).Model(siteListRow{}).Where("named_version <> version").Limit(1).Count(&stale).Error; err != nil || stale == 0 {
		return err // a store on a full disk opens too
	}
	return failed("name the sites for lists", s.within(ctx, func(t *Store) error {
		list, err := rows[struct {
			ID, Version int64
			Code, Setup string
		}](ctx, t, `SELECT s.id, s.version, s.code, u.setup FROM sites s JOIN setups u ON u.site = s.code AND u.version = s.version
			WHERE s.named_version <> s.version`)
		if err != nil {
			return err
		}
		for _, r := range list {
			var doc struct{ Site struct{ Name string } }
			if err := json.Unmarshal([]byte(r.Setup), &doc); err != nil {
				return err
			}
			err := t.db.WithContext(ctx).Model(siteListRow{}).Where("id = ?", r.ID).
				Updates(map[string]any{"name": doc.Site.Name, "search": searchText(r.Code, doc.Site.Name), "named_version": r.Version}).Error
			if err != nil {
				return err
			}
		}
		return nil
	}))
}
