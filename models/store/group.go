package store

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"gorm.io/gorm/clause"

	"hotday/models"
)

type groupRow struct {
	Code string `gorm:"primaryKey"`
	Name string
}

func (groupRow) TableName() string { return "site_groups" }

type groupMemberRow struct {
	Code string `gorm:"primaryKey"`
	Site string `gorm:"primaryKey"`
}

func (groupMemberRow) TableName() string { return "site_group_members" }

// noSite stands in the column of a token's site for one that reaches only groups: no site can be called so. An empty one means the whole
// organisation.
const noSite = "/"

// storedReach returns the columns of a token's site and groups.
func storedReach(site string, groups []string) (storedSite, storedGroups string) {
	if site == "" && len(groups) > 0 {
		site = noSite
	}
	return site, strings.Join(groups, " ")
}

// reach is the reverse of storedReach.
func reach(storedSite, storedGroups string) (site string, groups []string) {
	if storedSite == noSite {
		storedSite = ""
	}
	return storedSite, append([]string{}, strings.Fields(storedGroups)...)
}

// checkReach checks that the site and the groups of a token exist.
func (s *Store) checkReach(ctx context.Context, site string, groups []string) error {
	if site != "" {
		if _, err := s.site(ctx, site); err != nil {
			return err
		}
	}
	if len(groups) == 0 {
		return nil
	}
	var known []string
	if err := s.db.WithContext(ctx).Model(&groupRow{}).Where("code IN ?", groups).Pluck("code", &known).Error; err != nil {
		return err
	}
	for _, g := range groups {
		if !slices.Contains(known, g) {
			return noGroup(g)
		}
	}
	return nil
}

func noGroup(code string) error {
	return models.Errorf(models.CodeNotFound, "there is no group %q", code)
}

// withGroupSites adds the sites of a token's groups as they are now.
func (s *Store) withGroupSites(ctx context.Context, t models.Token) (models.Token, error) {
	if len(t.Groups) == 0 {
		return t, nil
	}
	var sites []string
	err := s.db.WithContext(ctx).Model(&groupMemberRow{}).Where("code IN ?", t.Groups).Pluck("site", &sites).Error
	slices.Sort(sites)
	return t.WithGroupSites(slices.Compact(sites)), failed("read the sites of groups", err)
}

// mayGet reports whether a person with the columns of a token gets messages from a site.
func (s *Store) mayGet(ctx context.Context, scopes, storedSite, storedGroups, site string) (bool, error) {
	t := models.Token{Scopes: strings.Fields(scopes)}
	t.Site, t.Groups = reach(storedSite, storedGroups)
	t, err := s.withGroupSites(ctx, t)
	return err == nil && t.MayGet(site), err
}

// PutGroup stores a group.
func (s *Store) PutGroup(ctx context.Context, g models.Group) (created bool, err error) {
	err = failed("store a group", s.alone(ctx, func(tx *Store) error {
		known, err := tx.Sites(ctx)
		if err != nil {
			return err
		}
		members := make([]groupMemberRow, 0, len(g.Sites))
		for i, site := range g.Sites {
			if _, found := slices.BinarySearch(known, site); !found {
				return models.Invalid("/sites/"+strconv.Itoa(i), "the code of a site that is set up", "there is no site %q", site)
			}
			members = append(members, groupMemberRow{g.Code, site})
		}
		var before int64
		if err := tx.db.WithContext(ctx).Model(&groupRow{}).Where("code = ?", g.Code).Count(&before).Error; err != nil {
			return err
		}
		created = before == 0
		row := groupRow{g.Code, g.Name}
		if err := tx.db.WithContext(ctx).Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "code"}}, DoUpdates: clause.AssignmentColumns([]string{"name"})}).Create(&row).Error; err != nil {
			return err
		}
		if err := tx.db.WithContext(ctx).Where("code = ?", g.Code).Delete(&groupMemberRow{}).Error; err != nil {
			return err
		}
		if len(members) == 0 {
			return nil
		}
		return tx.db.WithContext(ctx).Clauses(clause.OnConflict{DoNothing: true}).CreateInBatches(members, 500).Error
	}))
	return created && err == nil, err
}

// Group returns a group with its sites.
func (s *Store) Group(ctx context.Context, code string) (g models.Group, err error) {
	err = failed("read a group", s.view(ctx, func(tx *Store) error {
		var found []groupRow
		if err := tx.db.WithContext(ctx).Where("code = ?", code).Find(&found).Error; err != nil {
			return err
		}
		if len(found) == 0 {
			return noGroup(code)
		}
		g = models.Group{Code: code, Name: found[0].Name, Sites: []string{}}
		return tx.db.WithContext(ctx).Model(&groupMemberRow{}).Where("code = ?", code).Order("site").Pluck("site", &g.Sites).Error
	}))
	return g, err
}

// Groups returns a page of groups by code.
func (s *Store) Groups(ctx context.Context, among []string, p models.Page) (models.Rows[models.GroupHead], error) {
	out := models.Rows[models.GroupHead]{Rows: []models.GroupHead{}}
	after, err := readKeyCursor(p.Cursor, "groups", 1)
	if err != nil {
		return out, err
	}
	limit := limitOf(p)
	err = s.view(ctx, func(tx *Store) error {
		q := tx.db.WithContext(ctx).Model(&groupRow{})
		if among != nil {
			q = q.Where("code IN ?", among)
		}
		if after != nil {
			q = q.Where("code > ?", after[0])
		}
		var list []groupRow
		if err := q.Order("code").Limit(limit + 1).Find(&list).Error; err != nil {
			return err
		}
		if len(list) > limit {
			list = list[:limit]
			out.Next = keyCursor("groups", list[limit-1].Code)
		}
		codes := make([]string, len(list))
		for i, g := range list {
			codes[i] = g.Code
		}
		var counts []struct {
			Code  string
			Sites int
		}
		if err := tx.db.WithContext(ctx).Model(&groupMemberRow{}).Select("code, COUNT(*) AS sites").Where("code IN ?", codes).Group("code").Find(&counts).Error; err != nil {
			return err
		}
		sites := map[string]int{}
		for _, c := range counts {
			sites[c.Code] = c.Sites
		}
		for _, g := range list {
			out.Rows = append(out.Rows, models.GroupHead{Code: g.Code, Name: g.Name, Sites: sites[g.Code]})
		}
		return nil
	})
	return out, failed("list groups", err)
}

// DropGroup deletes a group that nobody names.
func (s *Store) DropGroup(ctx context.Context, code string) error {
	return failed("delete a group", s.alone(ctx, func(tx *Store) error {
		tokens, err := tx.Tokens(ctx)
		if err != nil {
			return err
		}
		n := 0
		for _, t := range tokens {
			if t.RevokedAt == nil && slices.Contains(t.Groups, code) {
				n++
			}
		}
		if n > 0 {
			return models.Errorf(models.CodeConflict, "%d access keys and people still name the group %q: change or remove them first", n, code)
		}
		if err := tx.db.WithContext(ctx).Where("code = ?", code).Delete(&groupMemberRow{}).Error; err != nil {
			return err
		}
		res := tx.db.WithContext(ctx).Where("code = ?", code).Delete(&groupRow{})
		if res.Error == nil && res.RowsAffected == 0 {
			return noGroup(code)
		}
		return res.Error
	}))
}
