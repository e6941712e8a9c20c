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
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"

	"hotday/models"
)

const (
	deliverTime  = 15 * time.Second // for one attempt, answer and all
	answerKept   = 1 << 10
	deliverAgent = "hotday-webhooks/1"
)

// deliver makes one attempt to tell a webhook. Whatever comes of it is kept with the job's completion, and the next attempt is
// a job of its own. An attempt may be made twice where the process dies between the answer and its keeping: the webhook-id is
// the same then.
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
		return nil, ctx.Err() // the service stops: this was no attempt
	}
	d.TriedAt, d.NextAt = &at, nil
	d.Attempts++
	switch {
	case d.Status >= 200 && d.Status < 300:
		d.State = models.DeliveryDelivered
	case d.Status == http.StatusGone || d.Attempts > len(models.DeliveryWaits): // gone: whoever is there wants no more
		d.State = models.DeliveryFailed
		c.Log.Warn("a webhook could not be told", "webhook", hook.ID, "delivery", d.ID, "status", d.Status)
	default:
		next := at.Add(models.DeliveryWaits[d.Attempts-1])
		d.NextAt = &next
	}
	return func(tx models.Store) error {
		err := tx.Tried(ctx, d)
		if models.CodeOf(err) == models.CodeNotFound {
			return nil // removed meanwhile
		}
		return err
	}, nil
}

// post sends a delivery as the Standard Webhooks specification says and returns the status and the beginning of the answer, or 0
// and why there was none.
func (c Config) post(ctx context.Context, address, secret string, d models.Delivery, at time.Time) (status int, answer string) {
	ctx, cancel := context.WithTimeout(ctx, deliverTime)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(d.Body))
	if err != nil {
		return 0, "the address cannot be used"
	}
	if req.URL.Scheme != "https" && !c.PrivateWebhooks {
		return 0, errNotHTTPS.Error()
	}
	stamp := strconv.FormatInt(at.Unix(), 10)
	signature, err := sign(secret, d.ID, stamp, d.Body)
	if err != nil {
		return 0, err.Error()
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", deliverAgent)
	req.Header.Set("webhook-id", d.ID)
	req.Header.Set("webhook-timestamp", stamp)
	req.Header.Set("webhook-signature", signature)
	resp, err := c.hooks.Do(req)
	if err != nil {
		return 0, whyNot(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, answerKept))
	if err != nil && len(body) == 0 {
		return resp.StatusCode, "the answer broke off"
	}
	return resp.StatusCode, string(body)
}

// sign is HMAC-SHA256 over id.timestamp.body with the secret's bytes, as "v1,…" (Standard Webhooks, from memory).
func sign(secret, id, stamp string, body []byte) (string, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		return "", errors.New("the webhook's secret cannot be read")
	}
	m := hmac.New(sha256.New, key)
	fmt.Fprintf(m, "%s.%s.%s", id, stamp, body)
	return "v1," + base64.StdEncoding.EncodeToString(m.Sum(nil)), nil
}

var (
	errNotPublic = errors.New("the address is of this machine or of a private network, where webhooks may not go")
	errNotHTTPS  = errors.New("the address is not https")
)

// whyNot says why there was no answer without what a person on the other side need not know.
func whyNot(err error) string {
	if errors.Is(err, errNotPublic) {
		return errNotPublic.Error()
	}
	var u *url.Error
	if errors.As(err, &u) {
		if u.Timeout() {
			return "no answer within " + deliverTime.String()
		}
		err = u.Err
	}
	return err.Error()
}

// hookClient follows no redirects, keeps no cookies, goes through no proxy, and connects to nothing but public addresses unless
// the operator allows others. The rule is held against the very address that is dialled, so that a name which stands for
// another address a moment later does not get past it.
func hookClient(private bool) *http.Client {
	dialer := &net.Dialer{Timeout: 5 * time.Second, Control: func(_, address string, _ syscall.RawConn) error {
		host, _, err := net.SplitHostPort(address)
		if err != nil {
			return err
		}
		if !private && !models.PublicAddress(net.ParseIP(host)) {
			return errNotPublic
		}
		return nil
	}}
	return &http.Client{
		Timeout:       deliverTime,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: 5 * time.Second, ResponseHeaderTimeout: 10 * time.Second,
			MaxResponseHeaderBytes: 16 << 10, DisableKeepAlives: true, DisableCompression: true},
	}
}
