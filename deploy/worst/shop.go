package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"strings"
	"time"

	"hotday/deploy/loopback"
)

// refusedPause keeps the load from taking the processor that it shares with the service, when it is refused.
const refusedPause = 100 * time.Millisecond

const (
	request  = "testdata/requests/weekend.json" // of the shop that is set up and previewed
	password = "nine grey kettles whistle at dawn"
)

// shop is a service with one site and a person.
type shop struct {
	options
	*loopback.Service
	site          string
	manager, till string
	others        []string // keys, with all rights of the site
	screens       []string // keys that may only read
	preview       []byte
	device        string // cookie of a browser that has signed in, if the service sets one
}

// open starts a service and sets a shop up.
func open(ctx context.Context, o options) (*shop, error) {
	service, err := loopback.Start(o.binary)
	if err != nil {
		return nil, err
	}
	s := &shop{options: o, Service: service}
	if err := s.makeKeys(ctx); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	if err := s.setUp(ctx); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	return s, nil
}

func (s *shop) makeKeys(ctx context.Context) error {
	var errs []error
	add := func(to *string, scope string) {
		secret, err := s.Key(ctx, scope)
		*to = secret
		errs = append(errs, err)
	}
	add(&s.manager, "manage")
	add(&s.till, "sales")
	s.others, s.screens = make([]string, s.keys), make([]string, s.keys)
	for i := range s.keys {
		add(&s.others[i], "manage")
		add(&s.screens[i], "read")
	}
	return errors.Join(errs...)
}

func (s *shop) setUp(ctx context.Context) error {
	data, err := os.ReadFile(request)
	if err != nil {
		return err
	}
	var doc map[string]json.RawMessage
	if err := json.Unmarshal(data, &doc); err != nil {
		return err
	}
	var site struct{ Code string }
	if err := json.Unmarshal(doc["site"], &site); err != nil {
		return err
	}
	s.site = "/v1/sites/" + site.Code
	if s.preview, err = fortnight(doc); err != nil {
		return err
	}
	text, err := json.Marshal(loopback.SetupOf(doc))
	if err != nil {
		return err
	}
	c := client("127.0.0.1")
	c.Jar, err = cookiejar.New(nil)
	if err != nil {
		return err
	}
	if body, err := s.want(ctx, c, call{"PUT", s.site + "/setup", s.manager, "", text}, http.StatusCreated); err != nil {
		return fmt.Errorf("%w: %s", err, body)
	}
	body, err := s.want(ctx, c, call{"POST", "/v1/people", s.manager, "", []byte(`{"name":"Ada","sign_in":"ada","scopes":["manage"],"site":null}`)}, http.StatusCreated)
	if err != nil {
		return fmt.Errorf("%w: %s", err, body)
	}
	code := regexp.MustCompile(`code=([^"]+)`).FindSubmatch(body)[1]
	if _, err := s.want(ctx, c, call{"POST", "/v1/welcome", "", "", fmt.Appendf(nil, `{"code":%q,"password":%q}`, code, password)}, http.StatusOK); err != nil {
		return err
	}
	if _, err := s.want(ctx, c, s.signIn("ada", password), http.StatusCreated); err != nil {
		return err
	}
	for _, cookie := range c.Jar.Cookies(&url.URL{Scheme: "http", Host: strings.TrimPrefix(s.Address, "http://"), Path: "/"}) {
		if cookie.Name == "hotday_device" {
			s.device = cookie.Name + "=" + cookie.Value
		}
	}
	return nil
}

// fortnight makes a request's demand that of 14 days.
func fortnight(doc map[string]json.RawMessage) ([]byte, error) {
	var rows, all []map[string]any
	var from string
	if err := errors.Join(json.Unmarshal(doc["demand"], &rows), json.Unmarshal(doc["from"], &from)); err != nil {
		return nil, err
	}
	first, err := time.Parse(time.DateOnly, from)
	if err != nil {
		return nil, err
	}
	for day := range 14 {
		for _, row := range rows {
			if row["date"] != from {
				continue
			}
			next := map[string]any{}
			for k, v := range row {
				next[k] = v
			}
			next["date"] = first.AddDate(0, 0, day).Format(time.DateOnly)
			all = append(all, next)
		}
	}
	out := map[string]any{}
	for k, v := range doc {
		out[k] = v
	}
	out["demand"], out["days"] = all, 14
	return json.Marshal(out)
}

func (s *shop) signIn(name, password string) call {
	return call{"POST", "/v1/session", "", s.device, fmt.Appendf(nil, `{"sign_in":%q,"password":%q}`, name, password)}
}

// call is a request with a body.
type call struct {
	method, path, token, cookie string
	body                        []byte
}

// client sends from one loopback address.
func client(from string) *http.Client {
	dialer := &net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	return &http.Client{Transport: &http.Transport{DialContext: dialer.DialContext, MaxIdleConnsPerHost: 100}}
}

func (s *shop) send(ctx context.Context, c *http.Client, x call) (status int, body []byte, err error) {
	req, err := http.NewRequestWithContext(ctx, x.method, s.Address+x.path, bytes.NewReader(x.body))
	if err != nil {
		return 0, nil, err
	}
	req.Header.Set("Content-Type", "application/json")
	if strings.Contains(x.path, "/sales-files") {
		req.Header.Set("Content-Type", "text/csv")
	}
	if x.token != "" {
		req.Header.Set("Authorization", "Bearer "+x.token)
	}
	if x.cookie != "" {
		req.Header.Set("Cookie", x.cookie)
	}
	res, err := c.Do(req)
	if err != nil {
		return 0, nil, err
	}
	defer res.Body.Close()
	body, err = io.ReadAll(res.Body)
	return res.StatusCode, body, err
}

func (s *shop) want(ctx context.Context, c *http.Client, x call, wanted int) ([]byte, error) {
	status, body, err := s.send(ctx, c, x)
	if err == nil && status != wanted {
		err = fmt.Errorf("%s %s: %d", x.method, x.path, status)
	}
	return body, err
}

// timed sends a request and adds it to a tally, unless the time of the mode ended it.
func (s *shop) timed(ctx context.Context, c *http.Client, t *tally, name string, x call) {
	began := time.Now()
	status, _, err := s.send(ctx, c, x)
	if ctx.Err() != nil {
		if took := time.Since(began); took > time.Second {
			t.add(name+", not answered", took, 0)
		}
		return
	}
	if err != nil {
		status = 0
	}
	t.add(name, time.Since(began), status)
	if status == 0 || status >= 400 {
		pause(ctx, refusedPause)
	}
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-time.After(d):
	case <-ctx.Done():
	}
}
