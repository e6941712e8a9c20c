package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"

	"hotday/models"
)

type pushRow struct {
	ID, Device, Person, Site, Kind, About, State, Answer string
	Attempts, Status                                     int
	CreatedAt, Until                                     int64
	TriedAt, NextAt                                      *int64
}

const pushColumns = "id, device, person, site, kind, about, state, attempts, created_at, until, tried_at, next_at, status, answer"

func (r pushRow) push() models.Push {
	return models.Push{ID: r.ID, Device: r.Device, Person: r.Person, Site: r.Site, Kind: r.Kind, About: r.About, State: r.State, Attempts: r.Attempts,
		CreatedAt: instant(r.CreatedAt), Until: instant(r.Until), TriedAt: instantOrNil(r.TriedAt), NextAt: instantOrNil(r.NextAt), Status: r.Status, Answer: r.Answer}
}

// addPush stores a notification and queues its first attempt, unless the device has had too many about warnings in the last hour.
func (s *Store) addPush(ctx context.Context, p models.Push) error {
	p.ID, p.State, p.NextAt = "push_"+ulid.Make().String(), models.DeliveryWaiting, &p.CreatedAt
	if p.Kind != models.MailSheet {
		warned, _, err := row[int](ctx, s, "SELECT COUNT(*) FROM pushes WHERE device = ? AND created_at > ? AND kind <> ?", p.Device, ms(p.CreatedAt.Add(-time.Hour)), models.MailSheet)
		if err != nil {
			return err
		}
		if warned >= models.WarningPushesPerHour {
			p.State, p.NextAt = models.DeliveryFailed, nil
			p.Answer = fmt.Sprintf("not sent: a device gets at most %d notifications an hour about warnings of a site", models.WarningPushesPerHour)
		}
	}
	if _, err := s.exec(ctx, "INSERT INTO pushes ("+pushColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, 0, ?, ?, NULL, ?, 0, ?)",
		p.ID, p.Device, p.Person, p.Site, p.Kind, p.About, p.State, ms(p.CreatedAt), ms(p.Until), msOrNil(p.NextAt), p.Answer); err != nil {
		return err
	}
	if p.NextAt == nil {
		return nil
	}
	return s.queueAttempt(ctx, models.JobPush, p.ID, 0, time.Time{})
}

// Push returns a notification by ID with its device.
func (s *Store) Push(ctx context.Context, id string) (p models.Push, d models.PushDevice, err error) {
	err = failed("find a notification", s.view(ctx, func(tx *Store) error {
		r, found, err := row[pushRow](ctx, tx, "SELECT "+pushColumns+" FROM pushes WHERE id = ?", id)
		if err == nil && !found {
			err = noPush(id)
		}
		if err != nil {
			return err
		}
		p = r.push()
		d, err = tx.PushDevice(ctx, p.Device)
		return err
	}))
	return p, d, err
}

func noPush(id string) error {
	return models.Errorf(models.CodeNotFound, "there is no notification %q", id)
}

// PushTried stores the outcome of an attempt and queues the next one.
func (s *Store) PushTried(ctx context.Context, p models.Push) error {
	return failed("store an attempt to notify", s.within(ctx, func(tx *Store) error {
		n, err := tx.exec(ctx, "UPDATE pushes SET state = ?, attempts = ?, tried_at = ?, next_at = ?, status = ?, answer = ? WHERE id = ?",
			p.State, p.Attempts, msOrNil(p.TriedAt), msOrNil(p.NextAt), p.Status, strings.ToValidUTF8(p.Answer, "\ufffd"), p.ID)
		if err != nil {
			return err
		}
		if n == 0 {
			return noPush(p.ID)
		}
		if p.State == models.DeliveryDelivered {
			if _, err := tx.exec(ctx, "UPDATE push_devices SET sent_at = ? WHERE id = ?", msOrNil(p.TriedAt), p.Device); err != nil {
				return err
			}
		}
		if p.NextAt == nil {
			return nil
		}
		return tx.queueAttempt(ctx, models.JobPush, p.ID, p.Attempts, *p.NextAt)
	}))
}

// PushLog returns a page of a person's notifications, newest first.
func (s *Store) PushLog(ctx context.Context, person string, p models.Page) (models.Rows[models.Push], error) {
	out, err := newestFirst(ctx, s, "push", pushColumns, "pushes", "person", person, p, func(r pushRow) (models.Push, int64) {
		return r.push(), r.CreatedAt
	})
	return out, failed("read notifications", err)
}
