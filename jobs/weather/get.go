package weather

import (
	"cmp"
	"context"
	"errors"
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
	timeout = 20 * time.Second // of one request, including its response
	maxBody = 4 << 20          // bytes of a response, uncompressed
)

// HTTPClient returns an HTTP client for a Client; private allows addresses of this machine and of private networks.
func HTTPClient(private bool) *http.Client { return outside.Client(private, timeout) }

// errNotModified says that the forecast is still the one that was fetched before.
var errNotModified = errors.New("not modified")

// failure is why there is no forecast.
type failure struct {
	problem    string // one of the models.Fetch… constants
	status     int
	retryAfter time.Duration
}

func (f *failure) Error() string { return f.problem }

var errUnreadable = &failure{problem: models.FetchUnreadable}

func failureOf(err error) *failure {
	var f *failure
	switch {
	case errors.As(err, &f):
		return f
	case errors.Is(err, outside.ErrNotPublic), errors.Is(err, outside.ErrNotHTTPS), errors.Is(err, outside.ErrHost):
		return &failure{problem: models.FetchNotAllowed}
	}
	return &failure{problem: models.FetchUnreachable}
}

// get requests an address. With conditional, it is that of the forecast itself: the caching headers of the last response are sent, those
// of this one kept, and errNotModified is returned for a 304.
func (a *ask) get(ctx context.Context, client *http.Client, address string, conditional bool) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, http.NoBody)
	if err != nil {
		return nil, &failure{problem: models.FetchUnreachable}
	}
	if err := outside.CheckScheme(req.URL, a.c.PlainHTTP); err != nil {
		return nil, err
	}
	req.Header.Set("User-Agent", a.userAgent())
	req.Header.Set("Accept", "application/geo+json, application/json")
	if conditional {
		for name, value := range map[string]string{"If-None-Match": a.state.ETag, "If-Modified-Since": a.state.LastModified} {
			if value != "" {
				req.Header.Set(name, value)
			}
		}
	}
	resp, err := client.Do(req)
	if err != nil {
		return nil, err
	}
	defer resp.Body.Close()
	a.state.Status = resp.StatusCode
	if conditional && resp.StatusCode == http.StatusNotModified {
		a.until = a.expires(resp.Header)
		return nil, errNotModified
	}
	if resp.StatusCode != http.StatusOK && resp.StatusCode != http.StatusNonAuthoritativeInfo { // 203: MET Norway's sign of a version that ends
		return nil, &failure{problemOf(resp.StatusCode), resp.StatusCode, retryAfter(resp.Header, a.now)}
	}
	body, err := io.ReadAll(io.LimitReader(resp.Body, maxBody+1))
	switch {
	case err != nil:
		return nil, err
	case len(body) > maxBody:
		return nil, &failure{problem: models.FetchUnreadable, status: resp.StatusCode}
	}
	if conditional {
		a.until = a.expires(resp.Header)
		a.state.ETag, a.state.LastModified = header(resp.Header, "ETag"), header(resp.Header, "Last-Modified")
	}
	return body, nil
}

// maxHeader is the longest caching header that is kept.
const maxHeader = 200

func header(h http.Header, name string) string {
	v := h.Get(name)
	if len(v) > maxHeader {
		return ""
	}
	return v
}

// userAgent names the program and a contact, as the services ask for: "hotday/1.4 (office@example.com)".
func (a *ask) userAgent() string {
	version := strings.Map(func(r rune) rune {
		if r <= ' ' || r > '~' || strings.ContainsRune("()<>@,;:\\\"/[]?={}", r) {
			return -1
		}
		return r
	}, a.c.Version)
	agent := "hotday/" + cmp.Or(version, "0")
	if c := a.c.contact(a.site); c != "" {
		agent += " (" + c + ")"
	}
	return agent
}

// expires is when a response may be asked for again, by Cache-Control: max-age, else Expires, counted from the service's own clock; zero
// where it says neither.
func (a *ask) expires(h http.Header) time.Time {
	for part := range strings.SplitSeq(h.Get("Cache-Control"), ",") {
		name, value, _ := strings.Cut(strings.TrimSpace(part), "=")
		if s, err := strconv.Atoi(strings.Trim(value, `"`)); err == nil && strings.EqualFold(name, "max-age") && s >= 0 {
			age, _ := strconv.Atoi(h.Get("Age"))
			return a.now.Add(time.Duration(min(s, int(latest/time.Second))-max(age, 0)) * time.Second)
		}
	}
	at, err := http.ParseTime(h.Get("Expires"))
	if err != nil {
		return time.Time{}
	}
	if date, err := http.ParseTime(h.Get("Date")); err == nil {
		return a.now.Add(at.Sub(date))
	}
	return at
}

// retryAfter is the time that a response asks to wait, as seconds or as a date.
func retryAfter(h http.Header, now time.Time) time.Duration {
	v := h.Get("Retry-After")
	if s, err := strconv.Atoi(v); err == nil {
		return time.Duration(min(s, int(latest/time.Second))) * time.Second
	}
	if at, err := http.ParseTime(v); err == nil {
		return at.Sub(now)
	}
	return 0
}

func problemOf(status int) string {
	switch status {
	case http.StatusUnauthorized, http.StatusForbidden:
		return models.FetchRefused
	case http.StatusBadRequest, http.StatusNotFound, http.StatusGone, http.StatusUnprocessableEntity:
		return models.FetchNoForecast
	case http.StatusTooManyRequests:
		return models.FetchTooOften
	}
	return models.FetchFailing
}

// sameHost reports whether an address is at the same scheme and host as a service's.
func sameHost(address, service string) bool {
	a, err := url.Parse(address)
	if err != nil {
		return false
	}
	b, err := url.Parse(service)
	return err == nil && a.Scheme == b.Scheme && a.Host == b.Host && a.User == nil
}
