package jobs

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"hotday/jobs/outside"
	"hotday/models"
)

const (
	deliveryTimeout = 15 * time.Second // of one attempt, including the response
	maxResponse     = 1 << 10          // bytes of the response to store
	userAgent       = "hotday-webhooks/1"
)

// deliver makes one attempt at a delivery. The outcome is stored with the job's completion, and a retry is a job of its own. If the
// process dies before the outcome is stored, the attempt is repeated with the same webhook-id.
func (c Config) deliver(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	id, _, _ := strings.Cut(j.Key, "/")
	d, err := c.Store.Delivery(ctx, id)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && d.State != models.DeliveryWaiting) {
		return nil, nil // removed with its webhook
	}
	if err != nil {
		return nil, fmt.Errorf("deliver %s: %w", id, err)
	}
	hook, secret, err := c.Store.Webhook(ctx, d.Webhook)
	if models.CodeOf(err) == models.CodeNotFound {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("deliver %s: %w", id, err)
	}
	at := c.Now()
	d.Status, d.Answer = c.post(ctx, hook.URL, secret, d, at)
	if ctx.Err() != nil {
		return nil, ctx.Err() // shutting down: this does not count as an attempt
	}
	d.TriedAt, d.NextAt = &at, nil
	d.Attempts++
	switch {
	case d.Status >= 200 && d.Status < 300:
		d.State = models.DeliveryDelivered
	case d.Status == http.StatusGone: // the receiver wants no more deliveries
		d.State = models.DeliveryFailed
	default:
		d.State, d.NextAt = models.AfterFailure(d.Attempts, at)
	}
	if d.State == models.DeliveryFailed {
		c.Log.Warn("webhook delivery failed", "webhook", hook.ID, "delivery", d.ID, "status", d.Status)
	}
	return func(tx models.Store) error { return unlessGone(tx.Tried(ctx, d)) }, nil
}

// unlessGone is nil for something that was removed in the meantime.
func unlessGone(err error) error {
	if models.CodeOf(err) == models.CodeNotFound {
		return nil
	}
	return err
}

// allowed returns an error for an address that a user has typed if nothing may be sent there.
func (c Config) allowed(u *url.URL) error {
	if err := outside.CheckScheme(u, c.PrivateWebhooks); err != nil {
		return err
	}
	return outside.CheckHost(u, c.OutsideHosts)
}

// post sends a delivery by the Standard Webhooks specification. It returns the status and the beginning of the response, or 0 and the
// error.
func (c Config) post(ctx context.Context, address, secret string, d models.Delivery, at time.Time) (status int, response string) {
	ctx, cancel := context.WithTimeout(ctx, deliveryTimeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(d.Body))
	if err != nil {
		return 0, "the address is not a valid URL"
	}
	if err := c.allowed(req.URL); err != nil {
		return 0, err.Error()
	}
	stamp := strconv.FormatInt(at.Unix(), 10)
	signature, err := sign(secret, d.ID, stamp, d.Body)
	if err != nil {
		return 0, err.Error()
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", userAgent)
	req.Header.Set("webhook-id", d.ID)
	req.Header.Set("webhook-timestamp", stamp)
	req.Header.Set("webhook-signature", signature)
	resp, err := c.hooks.Do(req)
	if err != nil {
		return 0, transportError(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, maxResponse))
	if err != nil && len(body) == 0 {
		return resp.StatusCode, "the response was cut off"
	}
	return resp.StatusCode, string(body)
}

// sign returns the HMAC-SHA256 of id.timestamp.body with the secret's bytes, as "v1,…" (Standard Webhooks, from memory).
func sign(secret, id, stamp string, body []byte) (string, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		return "", errors.New("the webhook's secret cannot be read")
	}
	m := hmac.New(sha256.New, key)
	fmt.Fprintf(m, "%s.%s.%s", id, stamp, body)
	return "v1," + base64.StdEncoding.EncodeToString(m.Sum(nil)), nil
}

// transportError describes why there was no response, without details that the owner of the webhook should not see.
func transportError(err error) string {
	if errors.Is(err, outside.ErrNotPublic) {
		return outside.ErrNotPublic.Error()
	}
	var u *url.Error
	if errors.As(err, &u) {
		if u.Timeout() {
			return "no response within " + deliveryTimeout.String()
		}
		err = u.Err
	}
	return err.Error()
}
