package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

type pushRow struct {
	ID        string
	Device    string
	Person    string
	Site      string
	Kind      string
	About     string
	State     string
	Attempts  int
	CreatedAt int64 `gorm:"autoCreateTime:false"`
	Until     int64
	TriedAt   *int64
	NextAt    *int64
	Status    int
	Answer    string
}

func (pushRow) TableName() string { return "pushes" }

func (r pushRow) push() models.Push {
	return models.Push{ID: r.ID, Device: r.Device, Person: r.Person, Site: r.Site, Kind: r.Kind, About: r.About, State: r.State, Attempts: r.Attempts,
		CreatedAt: instant(r.CreatedAt), Until: instant(r.Until), TriedAt: instantOrNil(r.TriedAt), NextAt: instantOrNil(r.NextAt), Status: r.Status, Answer: r.Answer}
}

// addPush stores a notification and queues its first attempt, unless the device has had too many about warnings in the last hour.
func (s *Store) addPush(ctx context.Context, p models.Push) error {
	p.ID, p.State, p.NextAt = "push_"+ulid.Make().String(), models.DeliveryWaiting, &p.CreatedAt
	if p.Kind != models.MailSheet {
		warned, err := gorm.G[pushRow](s.db).Where("device = ? AND created_at > ? AND kind <> ?", p.Device, ms(p.CreatedAt.Add(-time.Hour)), models.MailSheet).
			Count(ctx, "id")
		if err != nil {
			return err
		}
		if warned >= models.WarningPushesPerHour {
			p.State, p.NextAt = models.DeliveryFailed, nil
			p.Answer = fmt.Sprintf("not sent: a device gets at most %d notifications an hour about warnings of a site", models.WarningPushesPerHour)
		}
	}
	if err := gorm.G[pushRow](s.db).Create(ctx, &pushRow{ID: p.ID, Device: p.Device, Person: p.Person, Site: p.Site, Kind: p.Kind, About: p.About,
		State: p.State, CreatedAt: ms(p.CreatedAt), Until: ms(p.Until), NextAt: msOrNil(p.NextAt), Answer: p.Answer}); err != nil {
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
		r, found, err := one(gorm.G[pushRow](tx.db).Where("id = ?", id).Take(ctx))
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
		n, err := gorm.G[pushRow](tx.db).Where("id = ?", p.ID).Set(columns{"state": p.State, "attempts": p.Attempts, "tried_at": msOrNil(p.TriedAt),
			"next_at": msOrNil(p.NextAt), "status": p.Status, "answer": strings.ToValidUTF8(p.Answer, "\ufffd")}).Update(ctx)
		if err != nil {
			return err
		}
		if n == 0 {
			return noPush(p.ID)
		}
		if p.State == models.DeliveryDelivered {
			if _, err := gorm.G[pushDeviceRow](tx.db).Where("id = ?", p.Device).Update(ctx, "sent_at", msOrNil(p.TriedAt)); err != nil {
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
	out, err := newestFirst(ctx, "push", gorm.G[pushRow](s.db).Where("person = ?", person), p, func(r pushRow) (models.Push, int64) {
		return r.push(), r.CreatedAt
	})
	return out, failed("read notifications", err)
}
