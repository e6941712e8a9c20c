package store

import (
	"context"
	"crypto/ecdh"
	"crypto/rand"
	"encoding/base64"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

// pushKeyID is the ID of the only row of push_key, to which its secret is bound.
const pushKeyID = "vapid"

type pushKeyRow struct {
	ID        string
	Public    string
	Secret    string // the private key, encrypted
	CreatedAt int64  `gorm:"autoCreateTime:false"`
}

func (pushKeyRow) TableName() string { return "push_key" }

// PushKey returns the key pair, made at the first call. Losing it would lose all devices, so it is stored before anybody sees it.
func (s *Store) PushKey(ctx context.Context, at time.Time) (public, private string, err error) {
	read := func(s *Store) (found bool, err error) {
		r, found, err := one(gorm.G[pushKeyRow](s.db).Where("id = ?", pushKeyID).Take(ctx))
		if err == nil && found {
			public = r.Public
			private, err = s.unseal(pushKeyID, r.Secret)
		}
		return found, err
	}
	found, err := read(s)
	if err != nil || found {
		return public, private, failed("read the push key", err)
	}
	err = failed("make the push key", s.alone(ctx, func(tx *Store) error {
		if found, err := read(tx); err != nil || found {
			return err
		}
		key, err := ecdh.P256().GenerateKey(rand.Reader)
		if err != nil {
			return err
		}
		public, private = base64.RawURLEncoding.EncodeToString(key.PublicKey().Bytes()), base64.RawURLEncoding.EncodeToString(key.Bytes())
		secret, err := tx.seal(ctx, pushKeyID, private)
		if err != nil {
			return err
		}
		return gorm.G[pushKeyRow](tx.db).Create(ctx, &pushKeyRow{ID: pushKeyID, Public: public, Secret: secret, CreatedAt: ms(at)})
	}))
	if err != nil {
		return "", "", err
	}
	return public, private, nil
}

type pushDeviceRow struct {
	ID        string
	Person    string
	Site      string
	Browser   string
	Endpoint  string
	P256dh    string `gorm:"column:p256dh"`
	Auth      string
	Origin    string
	CreatedAt int64 `gorm:"autoCreateTime:false"`
	SentAt    *int64
}

func (pushDeviceRow) TableName() string { return "push_devices" }

// pushChoiceRow is what a person gets from a site; without a row, everything.
type pushChoiceRow struct {
	Person string `gorm:"primaryKey"`
	Site   string `gorm:"primaryKey"`
	Kinds  string
}

func (pushChoiceRow) TableName() string { return "push_choices" }

func (r pushDeviceRow) device() models.PushDevice {
	return models.PushDevice{ID: r.ID, Person: r.Person, Site: r.Site, Browser: r.Browser, CreatedAt: instant(r.CreatedAt), SentAt: instantOrNil(r.SentAt),
		Endpoint: r.Endpoint, Keys: models.PushKeys{P256dh: r.P256dh, Auth: r.Auth}, Origin: r.Origin}
}

// AddPushDevice stores a device, or the new keys and person of one whose endpoint is known at the site. What another person has been sent
// on it goes.
func (s *Store) AddPushDevice(ctx context.Context, d models.PushDevice) (stored models.PushDevice, added bool, err error) {
	err = s.changeAlone(ctx, "store a device", d.Site, func(tx *Store, _ siteRow) error {
		if _, err := tx.Person(ctx, d.Person); err != nil {
			return err
		}
		known, found, err := one(gorm.G[pushDeviceRow](tx.db).Scopes(ofSite(d.Site)).Where("endpoint = ?", d.Endpoint).Take(ctx))
		if err != nil {
			return err
		}
		d.CreatedAt, d.SentAt, added = instant(ms(d.CreatedAt)), nil, !found || known.Person != d.Person
		if !added {
			d.ID, d.CreatedAt, d.SentAt = known.ID, instant(known.CreatedAt), instantOrNil(known.SentAt)
			_, err := gorm.G[pushDeviceRow](tx.db).Where("id = ?", d.ID).
				Set(columns{"p256dh": d.Keys.P256dh, "auth": d.Keys.Auth, "origin": d.Origin, "browser": d.Browser}).Update(ctx)
			return err
		}
		if found {
			if err := tx.RemovePushDevice(ctx, known.ID); err != nil {
				return err
			}
		}
		n, err := gorm.G[pushDeviceRow](tx.db).Scopes(ofSite(d.Site)).Where("person = ?", d.Person).Count(ctx, "id")
		if err != nil {
			return err
		}
		if n >= models.PushDevicesPerPerson {
			return models.Errorf(models.CodeConflict, "a person has at most %d devices at a site: remove one first", models.PushDevicesPerPerson)
		}
		d.ID = "device_" + ulid.Make().String()
		return gorm.G[pushDeviceRow](tx.db).Create(ctx, &pushDeviceRow{ID: d.ID, Person: d.Person, Site: d.Site, Browser: d.Browser, Endpoint: d.Endpoint,
			P256dh: d.Keys.P256dh, Auth: d.Keys.Auth, Origin: d.Origin, CreatedAt: ms(d.CreatedAt)})
	})
	if err != nil {
		return models.PushDevice{}, false, err
	}
	return d, added, nil
}

func noDevice(id string) error {
	return models.Errorf(models.CodeNotFound, "there is no device %q", id)
}

// PushDevice returns a device by ID.
func (s *Store) PushDevice(ctx context.Context, id string) (models.PushDevice, error) {
	r, found, err := one(gorm.G[pushDeviceRow](s.db).Where("id = ?", id).Take(ctx))
	if err == nil && !found {
		err = noDevice(id)
	}
	return r.device(), failed("find a device", err)
}

// RemovePushDevice removes a device.
func (s *Store) RemovePushDevice(ctx context.Context, id string) error {
	return failed("remove a device", s.alone(ctx, func(tx *Store) error {
		n, err := gorm.G[pushDeviceRow](tx.db).Where("id = ?", id).Delete(ctx)
		if err == nil && n == 0 {
			err = noDevice(id)
		}
		return err
	}))
}

// removePush removes a person's devices with everything that depends on them.
func (s *Store) removePush(ctx context.Context, person string) error {
	if _, err := gorm.G[pushDeviceRow](s.db).Where("person = ?", person).Delete(ctx); err != nil {
		return err
	}
	_, err := gorm.G[pushChoiceRow](s.db).Where("person = ?", person).Delete(ctx)
	return err
}

// PushSettings returns a person's devices and choices.
func (s *Store) PushSettings(ctx context.Context, person string) (out models.PushSettings, err error) {
	err = failed("read notification settings", s.view(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, person); err != nil {
			return err
		}
		out = models.PushSettings{Person: person, Subscriptions: []models.MailSubscription{}, Devices: []models.PushDevice{}}
		choices, err := gorm.G[pushChoiceRow](tx.db).Where("person = ?", person).Order("site").Find(ctx)
		if err != nil {
			return err
		}
		for _, x := range choices {
			out.Subscriptions = append(out.Subscriptions, models.MailSubscription{Site: x.Site, Kinds: models.SortedPushKinds(strings.Fields(x.Kinds))})
		}
		list, err := gorm.G[pushDeviceRow](tx.db).Where("person = ?", person).Order("created_at, id").Find(ctx)
		out.Devices = append(out.Devices, nouns(list, pushDeviceRow.device)...)
		return err
	}))
	return out, err
}

// PutPushKinds stores choices.
func (s *Store) PutPushKinds(ctx context.Context, person string, list []models.MailSubscription) (out models.PushSettings, err error) {
	err = failed("store notification settings", s.alone(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, person); err != nil {
			return err
		}
		for _, x := range list {
			if _, err := tx.site(ctx, x.Site); err != nil {
				return err
			}
			if err := gorm.G[pushChoiceRow](tx.db, replace).Create(ctx, &pushChoiceRow{person, x.Site, strings.Join(models.SortedPushKinds(x.Kinds), " ")}); err != nil {
				return err
			}
		}
		out, err = tx.PushSettings(ctx, person)
		return err
	}))
	return out, err
}

// pushTo is a device that shows notifications of a site, and their kinds.
type pushTo struct {
	Device, Person string
	Kinds          []string
}

// pushedTo returns the devices of a site that show any of these kinds: of people who may read there.
func (s *Store) pushedTo(ctx context.Context, site string, kinds ...string) (out []pushTo, err error) {
	var list []struct {
		ID, Person, Scopes, AtSite, SiteGroups string
		Kinds                                  *string
	}
	err = s.db.WithContext(ctx).Model(pushDeviceRow{}).Select("d.id, d.person, tokens.scopes, tokens.site AS at_site, site_groups, kinds").Table("push_devices AS d").
		Joins("JOIN tokens ON tokens.id = d.person").Joins("LEFT JOIN push_choices c ON c.person = d.person AND c.site = d.site").
		Where("d.site = ? AND tokens.revoked_at IS NULL", site).Order("d.id").Scan(&list).Error
	for _, r := range list {
		to := pushTo{r.ID, r.Person, models.PushKinds}
		if r.Kinds != nil {
			to.Kinds = strings.Fields(*r.Kinds)
		}
		wanted := slices.ContainsFunc(kinds, func(k string) bool { return slices.Contains(to.Kinds, k) })
		may, err := s.mayGet(ctx, r.Scopes, r.AtSite, r.SiteGroups, site)
		if err != nil {
			return nil, err
		}
		if wanted && may {
			out = append(out, to)
		}
	}
	return out, err
}

// QueuePush queues a notification to each device that has not been sent the same before.
func (s *Store) QueuePush(ctx context.Context, c models.MailCause) error {
	return s.changeAside(ctx, "queue notifications of "+c.Site, c.Site, func(tx *Store, _ siteRow) error {
		list, err := tx.pushedTo(ctx, c.Site, c.Kind)
		if err != nil {
			return err
		}
		for _, to := range list {
			_, before, err := one(gorm.G[pushRow](tx.db).Where("device = ? AND kind = ? AND about = ?", to.Device, c.Kind, c.About).Take(ctx))
			if err != nil {
				return err
			}
			if before {
				continue
			}
			if err := tx.addPush(ctx, models.Push{Device: to.Device, Person: to.Person, Site: c.Site, Kind: c.Kind, About: c.About, CreatedAt: c.At, Until: c.Until}); err != nil {
				return err
			}
		}
		return nil
	})
}

// QueueWarningPush queues one notification a device about all warnings that are news to it.
func (s *Store) QueueWarningPush(ctx context.Context, site string, warnings []models.OpenWarning, at time.Time) error {
	if !slices.ContainsFunc(warnings, func(w models.OpenWarning) bool { return mailOfGrade[w.Grade] != "" }) {
		return nil
	}
	return s.changeAside(ctx, "queue notifications of warnings of "+site, site, func(tx *Store, _ siteRow) error {
		list, err := tx.pushedTo(ctx, site, models.MailActNow, models.MailActToday)
		if err != nil {
			return err
		}
		for _, to := range list {
			sent := sentWarnings{pushedWarningRow{}, "device", to.Device}
			kind, ids, err := tx.freshWarnings(ctx, sent, warnings, to.Kinds, at)
			if err != nil {
				return err
			}
			if len(ids) == 0 {
				continue
			}
			p := models.Push{Device: to.Device, Person: to.Person, Site: site, Kind: kind, About: strings.Join(ids, " "), CreatedAt: at, Until: at.Add(models.MailWarningTime)}
			if err := tx.addPush(ctx, p); err != nil {
				return err
			}
		}
		return nil
	})
}
