package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// siteRow is a site without its set-up, of which it has the version.
type siteRow struct {
	ID             int64
	Code           string
	Version        int64
	LastEvent      int64  // the last live event's ID: IDs are never used twice
	MaxWindowMs    int64  // the longest sales window: bounds the search for windows that overlap a span
	LastReceivedAt *int64 // when counts last arrived
}

func (siteRow) TableName() string { return "sites" }

// site returns a site's row; CodeNotFound if there is none.
func (s *Store) site(ctx context.Context, code string) (siteRow, error) {
	if err := s.holdSite(ctx, code); err != nil {
		return siteRow{}, fmt.Errorf("lock site %q: %w", code, err)
	}
	r, found, err := one(gorm.G[siteRow](s.db).Where("code = ?", code).Take(ctx))
	if err != nil {
		return r, fmt.Errorf("find site %q: %w", code, err)
	}
	if !found {
		return r, siteNotFound(code)
	}
	return r, nil
}

func siteNotFound(code string) error {
	return models.Errorf(models.CodeNotFound, "there is no site %q: set the shop up first", code)
}

// atSite runs fn with the site's row on one consistent snapshot; action describes it in errors.
func (s *Store) atSite(ctx context.Context, action, code string, fn func(*Store, siteRow) error) error {
	return failed(action, s.view(ctx, func(t *Store) error {
		r, err := t.site(ctx, code)
		if err != nil {
			return err
		}
		return fn(t, r)
	}))
}

// change runs fn with the site's row in a write transaction and counts it as a change of what plans and warnings follow from; action
// describes it in errors.
func (s *Store) change(ctx context.Context, action, code string, fn func(*Store, siteRow) error) error {
	return s.changeAside(ctx, action, code, func(t *Store, r siteRow) error {
		if err := fn(t, r); err != nil {
			return err
		}
		return t.countChange(ctx, code)
	})
}

// changeAside is change for data that no plan and no warning follows from.
func (s *Store) changeAside(ctx context.Context, action, code string, fn func(*Store, siteRow) error) error {
	return failed(action, s.within(ctx, func(t *Store) error {
		r, err := t.site(ctx, code)
		if err != nil {
			return err
		}
		return fn(t, r)
	}))
}

// changeAlone is changeAside that holds the organisation too, before the site as everywhere, so that no two wait for each other.
func (s *Store) changeAlone(ctx context.Context, action, code string, fn func(*Store, siteRow) error) error {
	return failed(action, s.alone(ctx, func(t *Store) error { return t.changeAside(ctx, action, code, fn) }))
}

type setupRow struct {
	Site     string `gorm:"primaryKey"`
	Version  int64  `gorm:"primaryKey"`
	ETag     string `gorm:"column:etag"`
	Setup    string
	StoredAt int64
}

func (setupRow) TableName() string { return "setups" }

func (s *Store) setupRow(ctx context.Context, code string) (setupRow, bool, error) {
	if err := s.holdSite(ctx, code); err != nil {
		return setupRow{}, false, fmt.Errorf("lock site %q: %w", code, err)
	}
	return one(s.currentSetup(code).Take(ctx))
}

// currentSetup queries the version of a set-up that is in force.
func (s *Store) currentSetup(code string) gorm.ChainInterface[setupRow] {
	return gorm.G[setupRow](s.db).Scopes(ofSite(code)).Where("version = (?)", s.db.Model(siteRow{}).Select("version").Where("code = ?", code))
}

// PutSetup stores a new version of a set-up, unless the document is unchanged.
func (s *Store) PutSetup(ctx context.Context, setup models.Setup, ifMatch string, at time.Time) (etag string, created bool, err error) {
	code := setup.Site.Code
	doc, err := json.Marshal(setup)
	if err != nil {
		return "", false, fmt.Errorf("encode the set-up: %w", err)
	}
	err = s.within(ctx, func(t *Store) error {
		if ifMatch == "" { // two may create it
			if err := t.hold(ctx, organisation); err != nil {
				return err
			}
		}
		current, found, err := t.setupRow(ctx, code)
		switch {
		case err != nil:
			return err
		case !found && ifMatch != "":
			return models.Errorf(models.CodePrecondition, "there is no site %q to match", code)
		case found && ifMatch == "":
			return models.Errorf(models.CodeNeedsMatch, "site %q already has a set-up: send the ETag of the version that you are changing as If-Match", code)
		case found && ifMatch != "*" && ifMatch != current.ETag:
			return models.Errorf(models.CodePrecondition, "the set-up of site %q has changed since you read it", code)
		case found && current.Setup == string(doc):
			etag = current.ETag
			return nil
		}
		version := int64(1)
		if found {
			r, err := t.site(ctx, code)
			if err != nil {
				return err
			}
			version = r.Version + 1
		}
		created = !found
		sum := sha256.Sum256(doc)
		etag = fmt.Sprintf("%d-%s", version, hex.EncodeToString(sum[:8]))
		head := siteListRow{Code: code, Version: version, NamedVersion: version, Name: setup.Site.Name, Search: searchText(code, setup.Site.Name)}
		newVersion := clause.OnConflict{Columns: []clause.Column{{Name: "code"}}, DoUpdates: clause.AssignmentColumns([]string{"version", "named_version", "name", "search"})}
		if err := gorm.G[siteListRow](t.db, newVersion).Create(ctx, &head); err != nil {
			return err
		}
		if err := t.countChange(ctx, code); err != nil {
			return err
		}
		if err := gorm.G[setupRow](t.db).Create(ctx, &setupRow{Site: code, Version: version, ETag: etag, Setup: string(doc), StoredAt: ms(at)}); err != nil {
			return err
		}
		return t.siteChanged(ctx, code, at)
	})
	return etag, created, failed("store the set-up of "+code, err)
}

// Setup returns the current set-up and its ETag.
func (s *Store) Setup(ctx context.Context, site string) (setup models.Setup, etag string, err error) {
	r, found, err := s.setupRow(ctx, site)
	if err != nil {
		return setup, "", fmt.Errorf("read the set-up of %s: %w", site, err)
	}
	if !found {
		return setup, "", siteNotFound(site)
	}
	if err := models.DecodeStored([]byte(r.Setup), &setup); err != nil {
		return setup, "", fmt.Errorf("read the set-up of %s: %w", site, err)
	}
	return setup, r.ETag, nil
}

// SetupETag returns the ETag of the current set-up.
func (s *Store) SetupETag(ctx context.Context, site string) (string, error) {
	r, found, err := one(s.currentSetup(site).Omit("setup").Take(ctx))
	if err == nil && !found {
		err = siteNotFound(site)
	}
	return r.ETag, failed("read the version of the set-up of "+site, err)
}

// SetupVersions returns the versions of a set-up, newest first.
func (s *Store) SetupVersions(ctx context.Context, site string, limit int) ([]models.SetupVersion, error) {
	var out []models.SetupVersion
	err := s.atSite(ctx, "read the versions of the set-up of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[setupRow](t.db).Scopes(ofSite(site)).Order("version DESC").Limit(limit).Find(ctx)
		if err != nil {
			return err
		}
		out = make([]models.SetupVersion, len(list))
		for i, v := range list {
			out[i] = models.SetupVersion{Version: int(v.Version), StoredAt: instant(v.StoredAt)}
			if err := models.DecodeStored([]byte(v.Setup), &out[i].Setup); err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}

// Sites returns the codes of all sites, in order.
func (s *Store) Sites(ctx context.Context) ([]string, error) {
	list, err := gorm.G[siteRow](s.db).Order("code").Find(ctx)
	return nouns(list, func(r siteRow) string { return r.Code }), failed("list the sites", err)
}
