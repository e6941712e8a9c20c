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

	"hotday/models"
)

// pushKeyID is the ID of the only row of push_key, to which its secret is bound.
const pushKeyID = "vapid"

type pushKeyRow struct{ Public, Secret string }

// PushKey returns the key pair, made at the first call. Losing it would lose all devices, so it is stored before anybody sees it.
func (s *Store) PushKey(ctx context.Context, at time.Time) (public, private string, err error) {
	read := func(s *Store) (found bool, err error) {
		r, found, err := row[pushKeyRow](ctx, s, "SELECT public, secret FROM push_key WHERE id = ?", pushKeyID)
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
		_, err = tx.exec(ctx, "INSERT INTO push_key (id, public, secret, created_at) VALUES (?, ?, ?, ?)", pushKeyID, public, secret, ms(at))
		return err
	}))
	if err != nil {
		return "", "", err
	}
	return public, private, nil
}

type pushDeviceRow struct {
	ID, Person, Site, Browser, Endpoint, P256dh, Auth, Origin string
	CreatedAt                                                 int64
	SentAt                                                    *int64
}

const pushDeviceColumns = "id, person, site, browser, endpoint, p256dh, auth, origin, created_at, sent_at"

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
		known, found, err := row[pushDeviceRow](ctx, tx, "SELECT "+pushDeviceColumns+" FROM push_devices WHERE endpoint = ? AND site = ?", d.Endpoint, d.Site)
		if err != nil {
			return err
		}
		d.CreatedAt, d.SentAt, added = instant(ms(d.CreatedAt)), nil, !found || known.Person != d.Person
		if !added {
			d.ID, d.CreatedAt, d.SentAt = known.ID, instant(known.CreatedAt), instantOrNil(known.SentAt)
			_, err := tx.exec(ctx, "UPDATE push_devices SET p256dh = ?, auth = ?, origin = ?, browser = ? WHERE id = ?", d.Keys.P256dh, d.Keys.Auth, d.Origin, d.Browser, d.ID)
			return err
		}
		if found {
			if err := tx.RemovePushDevice(ctx, known.ID); err != nil {
				return err
			}
		}
		n, _, err := row[int](ctx, tx, "SELECT COUNT(*) FROM push_devices WHERE person = ? AND site = ?", d.Person, d.Site)
		if err != nil {
			return err
		}
		if n >= models.PushDevicesPerPerson {
			return models.Errorf(models.CodeConflict, "a person has at most %d devices at a site: remove one first", models.PushDevicesPerPerson)
		}
		d.ID = "device_" + ulid.Make().String()
		_, err = tx.exec(ctx, "INSERT INTO push_devices ("+pushDeviceColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, NULL)",
			d.ID, d.Person, d.Site, d.Browser, d.Endpoint, d.Keys.P256dh, d.Keys.Auth, d.Origin, ms(d.CreatedAt))
		return err
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
	r, found, err := row[pushDeviceRow](ctx, s, "SELECT "+pushDeviceColumns+" FROM push_devices WHERE id = ?", id)
	if err == nil && !found {
		err = noDevice(id)
	}
	return r.device(), failed("find a device", err)
}

// RemovePushDevice removes a device.
func (s *Store) RemovePushDevice(ctx context.Context, id string) error {
	return failed("remove a device", s.alone(ctx, func(tx *Store) error {
		n, err := tx.exec(ctx, "DELETE FROM push_devices WHERE id = ?", id)
		if err == nil && n == 0 {
			err = noDevice(id)
		}
		return err
	}))
}

// removePush removes a person's devices with everything that depends on them.
func (s *Store) removePush(ctx context.Context, person string) error {
	for _, statement := range []string{"DELETE FROM push_devices WHERE person = ?", "DELETE FROM push_choices WHERE person = ?"} {
		if _, err := s.exec(ctx, statement, person); err != nil {
			return err
		}
	}
	return nil
}

// PushSettings returns a person's devices and choices.
func (s *Store) PushSettings(ctx context.Context, person string) (out models.PushSettings, err error) {
	err = failed("read notification settings", s.view(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, person); err != nil {
			return err
		}
		out = models.PushSettings{Person: person, Subscriptions: []models.MailSubscription{}, Devices: []models.PushDevice{}}
		choices, err := rows[struct{ Site, Kinds string }](ctx, tx, "SELECT site, kinds FROM push_choices WHERE person = ? ORDER BY site", person)
		if err != nil {
			return err
		}
		for _, x := range choices {
			out.Subscriptions = append(out.Subscriptions, models.MailSubscription{Site: x.Site, Kinds: models.SortedPushKinds(strings.Fields(x.Kinds))})
		}
		list, err := rows[pushDeviceRow](ctx, tx, "SELECT "+pushDeviceColumns+" FROM push_devices WHERE person = ? ORDER BY created_at, id", person)
		for _, r := range list {
			out.Devices = append(out.Devices, r.device())
		}
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
			if _, err := tx.exec(ctx, `INSERT INTO push_choices (person, site, kinds) VALUES (?, ?, ?) ON CONFLICT (person, site) DO UPDATE SET kinds = excluded.kinds`,
				person, x.Site, strings.Join(models.SortedPushKinds(x.Kinds), " ")); err != nil {
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
	list, err := rows[struct {
		ID, Person, Scopes, AtSite, SiteGroups string
		Kinds                                  *string
	}](ctx, s, `SELECT d.id, d.person, t.scopes, t.site AS at_site, t.site_groups, c.kinds FROM push_devices d JOIN tokens t ON t.id = d.person
		LEFT JOIN push_choices c ON c.person = d.person AND c.site = d.site WHERE d.site = ? AND t.revoked_at IS NULL ORDER BY d.id`, site)
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
			_, before, err := row[string](ctx, tx, "SELECT id FROM pushes WHERE device = ? AND kind = ? AND about = ?", to.Device, c.Kind, c.About)
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
			sent := sentWarnings{"pushed_warnings", "device", to.Device}
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
