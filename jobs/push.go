package jobs

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"hotday/jobs/push"
	"hotday/models"
)

// sendPush makes one attempt at a notification. As with webhooks and e-mail, the outcome is stored with the job's completion and a retry is a
// job of its own; an attempt whose outcome was lost is repeated with the same ID, which replaces the notification on the device.
func (c Config) sendPush(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	id, _, _ := strings.Cut(j.Key, "/")
	p, d, err := c.Store.Push(ctx, id)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && p.State != models.DeliveryWaiting) {
		return nil, nil // removed with its device
	}
	if err != nil {
		return nil, fmt.Errorf("notify %s: %w", id, err)
	}
	at := c.Now()
	m, reason, err := c.pushMessage(ctx, p, d)
	switch {
	case err != nil:
		return nil, fmt.Errorf("write notification %s: %w", id, err)
	case reason != "":
		p.State, p.NextAt, p.Answer = models.DeliveryFailed, nil, "not sent: "+reason
	default:
		answer, err := c.pushTo(ctx, d, m)
		if ctx.Err() != nil {
			return nil, ctx.Err() // shutting down: this does not count as an attempt
		}
		if answer.Status == http.StatusNotFound || answer.Status == http.StatusGone { // the browser has ended the subscription (RFC 8030, section 7.3)
			c.Log.Info("device removed: its browser shows no notifications any more", "device", d.ID, "site", d.Site)
			return func(tx models.Store) error { return unlessGone(tx.RemovePushDevice(ctx, d.ID)) }, nil
		}
		p.Attempts++
		p.TriedAt, p.NextAt, p.Status, p.Answer = &at, nil, answer.Status, answer.Body
		switch {
		case answer.Status >= 200 && answer.Status < 300:
			p.State, p.Answer = models.DeliveryDelivered, ""
		case errors.Is(err, push.ErrNote) || refusedForGood(answer.Status):
			p.State = models.DeliveryFailed
		default:
			p.State, p.NextAt = models.AfterFailure(p.Attempts, at)
			if later := at.Add(answer.RetryAfter); p.NextAt != nil && p.NextAt.Before(later) {
				p.NextAt = &later
			}
		}
		if err != nil {
			p.Answer = transportError(err)
		}
		p.Answer = p.Answer[:min(len(p.Answer), maxResponse)]
	}
	if p.State == models.DeliveryFailed {
		c.Log.Warn("notification not sent", "notification", p.ID, "kind", p.Kind, "site", p.Site, "reason", p.Answer)
	}
	return func(tx models.Store) error { return unlessGone(tx.PushTried(ctx, p)) }, nil
}

// refusedForGood reports whether another attempt would get the same answer: the push service doesn't accept the request or the key.
func refusedForGood(status int) bool {
	return status >= 400 && status < 500 && status != http.StatusRequestTimeout && status != http.StatusTooManyRequests
}

// pushTo sends a message to a device.
func (c Config) pushTo(ctx context.Context, d models.PushDevice, m push.Message) (push.Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, deliveryTimeout)
	defer cancel()
	u, err := url.Parse(d.Endpoint)
	if err == nil {
		err = c.allowed(u)
	}
	if err != nil {
		return push.Answer{}, err
	}
	return push.Send(ctx, c.hooks, d, m, maxResponse)
}

// pushMessage writes a notification from what holds now. reason says why it is no longer to be sent.
func (c Config) pushMessage(ctx context.Context, p models.Push, d models.PushDevice) (m push.Message, reason string, err error) {
	left := p.Until.Sub(c.Now())
	if left <= 0 {
		return m, "too late", nil
	}
	set, err := c.Store.PushSettings(ctx, p.Person)
	if models.CodeOf(err) == models.CodeNotFound {
		return m, "the person was removed", nil
	}
	if err != nil {
		return m, "", err
	}
	reader, err := c.Store.TokenByID(ctx, p.Person)
	if err != nil {
		return m, "", err
	}
	if !slices.Contains(set.Kinds(p.Site), p.Kind) || !reader.MayGet(p.Site) {
		return m, "no longer wanted", nil
	}
	setup, _, err := c.Store.Setup(ctx, p.Site)
	if err != nil {
		return m, "", err
	}
	public, private, err := c.Store.PushKey(ctx, c.Now())
	if err != nil {
		return m, "", err
	}
	m = push.Message{ID: p.ID, Key: push.Key{Public: public, Private: private}, TTL: left, Urgent: p.Kind == models.MailActNow, Subject: push.Subject(d.Origin)}
	w := push.WriterFor(p.ID, setup, reader)
	if p.Kind == models.MailSheet {
		s, err := c.Store.Sheet(ctx, p.Site, models.Date(p.About))
		if models.CodeOf(err) == models.CodeNotFound {
			return m, "the sheet was removed", nil
		}
		m.Note = w.Sheet(s)
		return m, "", err
	}
	open, err := c.stillOpen(ctx, p.Site, p.About)
	if err != nil || len(open) == 0 {
		return m, "the warning is over", err
	}
	m.Note = w.Warnings(open)
	return m, "", nil
}
