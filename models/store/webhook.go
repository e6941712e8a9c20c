package store

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

type webhookRow struct {
	ID        string
	URL       string
	Events    string
	Site      string // empty: all sites
	Secret    string // encrypted
	CreatedAt int64  `gorm:"autoCreateTime:false"`
	CreatedBy string
}

func (webhookRow) TableName() string { return "webhooks" }

func (r webhookRow) webhook() models.Webhook {
	return models.Webhook{ID: r.ID, URL: r.URL, Events: strings.Fields(r.Events), Site: r.Site, CreatedAt: instant(r.CreatedAt), CreatedBy: r.CreatedBy}
}

// AddWebhook creates a secret in the format of Standard Webhooks. It is stored encrypted, since deliveries are signed with it.
func (s *Store) AddWebhook(ctx context.Context, w models.Webhook, at time.Time) (models.Webhook, string, error) {
	var raw [32]byte
	_, _ = rand.Read(raw[:]) // never fails
	secret := "whsec_" + base64.StdEncoding.EncodeToString(raw[:])
	w.ID, w.CreatedAt = ulid.Make().String(), instant(ms(at))
	err := failed("store a webhook", s.alone(ctx, func(tx *Store) error {
		if w.Site != "" {
			if _, err := tx.site(ctx, w.Site); err != nil {
				return err
			}
		}
		stored, err := tx.seal(ctx, w.ID, secret)
		if err != nil {
			return err
		}
		return gorm.G[webhookRow](tx.db).Create(ctx, &webhookRow{ID: w.ID, URL: w.URL, Events: strings.Join(w.Events, " "), Site: w.Site, Secret: stored,
			CreatedAt: ms(at), CreatedBy: w.CreatedBy})
	}))
	if err != nil {
		return models.Webhook{}, "", err
	}
	return w, secret, nil
}

// Webhook returns a webhook with its secret.
func (s *Store) Webhook(ctx context.Context, id string) (models.Webhook, string, error) {
	r, found, err := one(gorm.G[webhookRow](s.db).Where("id = ?", id).Take(ctx))
	if err == nil && !found {
		err = noWebhook(id)
	}
	if err != nil {
		return models.Webhook{}, "", failed("find a webhook", err)
	}
	secret, err := s.unseal(r.ID, r.Secret)
	return r.webhook(), secret, failed("read a webhook's secret", err)
}

func noWebhook(id string) error {
	return models.Errorf(models.CodeNotFound, "there is no webhook %q", id)
}

// Webhooks returns all webhooks.
func (s *Store) Webhooks(ctx context.Context) ([]models.Webhook, error) {
	list, err := gorm.G[webhookRow](s.db).Order("created_at, id").Find(ctx)
	return append([]models.Webhook{}, nouns(list, webhookRow.webhook)...), failed("list webhooks", err)
}

// RemoveWebhook removes a webhook with its deliveries; attempts already queued do nothing.
func (s *Store) RemoveWebhook(ctx context.Context, id string) error {
	return failed("remove a webhook", s.alone(ctx, func(tx *Store) error {
		n, err := gorm.G[webhookRow](tx.db).Where("id = ?", id).Delete(ctx)
		if err == nil && n == 0 {
			err = noWebhook(id)
		}
		return err
	}))
}

// queueDeliveries creates the deliveries of a live event and queues their first attempts.
func (s *Store) queueDeliveries(ctx context.Context, e models.LiveEvent) error {
	if e.Kind == "demand" {
		return s.queueSaleChanges(ctx, e)
	}
	event := map[string]string{"sheet": models.HookPublished, "warning": models.HookWarning, "mark": models.HookMarked}[e.Kind]
	if event == "" {
		return nil
	}
	return s.queueEvent(ctx, e, event)
}

// queueSaleChanges queues a delivery for each drink that goes off sale or is back on sale.
func (s *Store) queueSaleChanges(ctx context.Context, e models.LiveEvent) error {
	var changes models.SaleChanges
	if err := json.Unmarshal(e.Data, &changes); err != nil {
		return err
	}
	for _, of := range []struct {
		event string
		list  []models.SaleChange
	}{{models.HookOnSale, changes.On}, {models.HookOffSale, changes.Off}} {
		for _, c := range of.list {
			data, err := json.Marshal(c)
			if err != nil {
				return err
			}
			e.Data = data
			if err := s.queueEvent(ctx, e, of.event); err != nil {
				return err
			}
		}
	}
	return nil
}

// queueEvent creates the deliveries of a webhook event, whose payload is the data of e, and queues their first attempts.
func (s *Store) queueEvent(ctx context.Context, e models.LiveEvent, event string) error {
	hooks, err := gorm.G[webhookRow](s.db).Where("site IN ?", []string{e.Site, ""}).Find(ctx)
	if err != nil {
		return err
	}
	hooks = slices.DeleteFunc(hooks, func(w webhookRow) bool { return !slices.Contains(strings.Fields(w.Events), event) })
	if len(hooks) == 0 {
		return nil
	}
	data := e.Data
	if event == models.HookWarning {
		if data, err = s.openedWarnings(ctx, e); err != nil || data == nil {
			return err
		}
	}
	body, err := json.Marshal(models.HookBody{Type: event, Timestamp: instant(ms(e.At)), Site: e.Site, Data: data})
	if err != nil {
		return err
	}
	for _, w := range hooks {
		d := deliveryRow{ID: "msg_" + ulid.Make().String(), Webhook: w.ID, Event: event, State: models.DeliveryWaiting, Series: 1, CreatedAt: ms(e.At),
			NextAt: new(ms(e.At)), Body: string(body)}
		if err := gorm.G[deliveryRow](s.db).Create(ctx, &d); err != nil {
			return err
		}
		if err := s.queueDelivery(ctx, d, time.Time{}); err != nil {
			return err
		}
	}
	return nil
}

// openedWarnings returns the payload for the warnings that an event opened, nil if there are none.
func (s *Store) openedWarnings(ctx context.Context, e models.LiveEvent) (json.RawMessage, error) {
	var ids struct {
		Opened []string `json:"opened"`
	}
	if err := json.Unmarshal(e.Data, &ids); err != nil || len(ids.Opened) == 0 {
		return nil, err
	}
	list, err := gorm.G[warningRow](s.db).Scopes(ofSite(e.Site)).Where("id IN ?", ids.Opened).Order("opened_at, id").Find(ctx)
	if err != nil {
		return nil, err
	}
	return json.Marshal(models.WarningsRaised{Warnings: warnings(list)})
}

// queueDelivery queues the next attempt at a delivery.
func (s *Store) queueDelivery(ctx context.Context, d deliveryRow, runAt time.Time) error {
	return s.queueAttempt(ctx, models.JobDeliver, fmt.Sprintf("%s/%d", d.ID, d.Series), d.Attempts, runAt)
}

// queueAttempt queues the next attempt to send something, under a key of its own, since the queue accepts each key once.
func (s *Store) queueAttempt(ctx context.Context, kind, id string, attempts int, runAt time.Time) error {
	_, err := s.Enqueue(ctx, models.Job{Kind: kind, Key: fmt.Sprintf("%s/%d", id, attempts), RunAt: runAt})
	return err
}

type deliveryRow struct {
	ID        string
	Webhook   string
	Event     string
	State     string
	Attempts  int
	Series    int   // how often it was begun: once, and at each replay
	CreatedAt int64 `gorm:"autoCreateTime:false"`
	TriedAt   *int64
	NextAt    *int64
	Status    int
	Answer    string
	Body      string
}

func (deliveryRow) TableName() string { return "deliveries" }

func (r deliveryRow) delivery() models.Delivery {
	return models.Delivery{ID: r.ID, Webhook: r.Webhook, Event: r.Event, State: r.State, Attempts: r.Attempts, CreatedAt: instant(r.CreatedAt),
		TriedAt: instantOrNil(r.TriedAt), NextAt: instantOrNil(r.NextAt), Status: r.Status, Answer: r.Answer, Body: json.RawMessage(r.Body)}
}

// Deliveries returns a page of a webhook's deliveries, newest first.
func (s *Store) Deliveries(ctx context.Context, webhook string, p models.Page) (models.Rows[models.Delivery], error) {
	out, err := newestFirst(ctx, "deliveries", gorm.G[deliveryRow](s.db).Where("webhook = ?", webhook), p, func(r deliveryRow) (models.Delivery, int64) {
		return r.delivery(), r.CreatedAt
	})
	return out, failed("read deliveries", err)
}

func (s *Store) deliveryRow(ctx context.Context, id string) (deliveryRow, error) {
	r, found, err := one(gorm.G[deliveryRow](s.db).Where("id = ?", id).Take(ctx))
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no delivery %q", id)
	}
	return r, failed("find a delivery", err)
}

// Delivery returns a delivery by ID.
func (s *Store) Delivery(ctx context.Context, id string) (models.Delivery, error) {
	r, err := s.deliveryRow(ctx, id)
	return r.delivery(), err
}

// Tried stores the outcome of an attempt and queues the next one.
func (s *Store) Tried(ctx context.Context, d models.Delivery) error {
	return failed("store a delivery attempt", s.alone(ctx, func(tx *Store) error {
		r, err := tx.deliveryRow(ctx, d.ID)
		if err != nil {
			return err
		}
		if _, err := gorm.G[deliveryRow](tx.db).Where("id = ?", d.ID).Set(columns{"state": d.State, "attempts": d.Attempts, "tried_at": msOrNil(d.TriedAt),
			"next_at": msOrNil(d.NextAt), "status": d.Status, "answer": strings.ToValidUTF8(d.Answer, "\ufffd")}).Update(ctx); err != nil {
			return err
		}
		if d.NextAt == nil {
			return nil
		}
		r.Attempts = d.Attempts
		return tx.queueDelivery(ctx, r, *d.NextAt)
	}))
}

// Replay restarts a delivery.
func (s *Store) Replay(ctx context.Context, id string, at time.Time) (out models.Delivery, err error) {
	err = failed("replay a delivery", s.alone(ctx, func(tx *Store) error {
		r, err := tx.deliveryRow(ctx, id)
		if err != nil {
			return err
		}
		if r.State == models.DeliveryWaiting {
			return models.Errorf(models.CodeConflict, "this delivery is already waiting for its next attempt")
		}
		now := ms(at)
		r.State, r.Attempts, r.Series, r.NextAt = models.DeliveryWaiting, 0, r.Series+1, &now
		if _, err := gorm.G[deliveryRow](tx.db).Where("id = ?", id).
			Set(columns{"state": r.State, "attempts": 0, "series": r.Series, "next_at": now}).Update(ctx); err != nil {
			return err
		}
		out = r.delivery()
		return tx.queueDelivery(ctx, r, time.Time{})
	}))
	return out, err
}
