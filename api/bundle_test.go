package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"
	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
	"hotday/models/store"
	"hotday/models/store/pgtest"
	"hotday/openapi"
)

// bundle is a running service with a real database and an organisation-wide token.
type bundle struct {
	t     testing.TB
	base  string
	store *store.Store
	token string // the default token of a call
	log   *logBuffer
	clock *clock
	stop  func() error // shuts the service down, once, and waits
}

// clock is the service's clock; tests advance it.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// logBuffer collects the service's log.
type logBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func newBundle(t testing.TB, change ...func(*api.Config)) *bundle {
	t.Helper()
	return newBundleAt(t, filepath.Join(t.TempDir(), "hotday.db"), change...)
}

// newBundleOnPostgres is newBundle with a PostgreSQL database.
func newBundleOnPostgres(t testing.TB, change ...func(*api.Config)) *bundle {
	t.Helper()
	return newBundleAt(t, pgtest.Empty(t), change...)
}

func newBundleAt(t testing.TB, dsn string, change ...func(*api.Config)) *bundle {
	t.Helper()
	b := &bundle{t: t, log: &logBuffer{}, clock: &clock{now: time.Date(2026, 7, 10, 13, 0, 0, 0, time.UTC)}}
	st, err := store.Open(context.Background(), dsn, store.WithClock(b.clock.Now), store.WithSecretFile(filepath.Join(t.TempDir(), "hotday.key")))
	require.NoError(t, err)
	b.store = st
	cfg := api.Config{Store: st, Sessions: st, Now: b.clock.Now, Log: slog.New(slog.NewJSONHandler(b.log, nil)), RatePerSecond: 1e6,
		PasswordCost: &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}}
	for _, f := range change {
		f(&cfg)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	b.base = "http://" + l.Addr().String()
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- api.New(cfg).Serve(ctx, l, 10*time.Second) }()
	b.stop = sync.OnceValue(func() error { stop(); return <-served })
	t.Cleanup(func() {
		require.NoError(t, b.stop())
		require.NoError(t, st.Close())
	})
	b.token = b.newToken("", models.ScopeManage)
	return b
}

func (b *bundle) newToken(site string, scopes ...string) string {
	b.t.Helper()
	_, secret, err := b.store.AddToken(context.Background(), models.Token{Name: "for the test", Scopes: scopes, Site: site}, b.clock.Now())
	require.NoError(b.t, err)
	return secret
}

// answer is a response with its body.
type answer struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// call is a request; fields are optional.
type call struct {
	method, path string
	token        string // "-": none
	body         any    // []byte or string are sent as they are, anything else as JSON
	header       map[string]string
}

func (b *bundle) do(c call) answer {
	b.t.Helper()
	a, req, sent, resp := b.send(c)
	checkContract(b.t, req, sent, resp, a.body)
	return a
}

// raw is do without the contract check, for requests that HTTP allows but the contract does not describe.
func (b *bundle) raw(c call) answer {
	b.t.Helper()
	a, _, _, _ := b.send(c)
	return a
}

func (b *bundle) send(c call) (a answer, req *http.Request, body []byte, resp *http.Response) {
	b.t.Helper()
	switch x := c.body.(type) {
	case nil:
	case []byte:
		body = x
	case string:
		body = []byte(x)
	default:
		var err error
		body, err = json.Marshal(x)
		require.NoError(b.t, err)
	}
	req, err := http.NewRequest(c.method, b.base+c.path, bytes.NewReader(body))
	require.NoError(b.t, err)
	if len(body) > 0 {
		req.Header.Set("Content-Type", "application/json")
	}
	switch c.token {
	case "":
		req.Header.Set("Authorization", "Bearer "+b.token)
	case "-":
	default:
		req.Header.Set("Authorization", "Bearer "+c.token)
	}
	for k, v := range c.header {
		if v == "" {
			req.Header.Del(k)
		} else {
			req.Header.Set(k, v)
		}
	}
	resp, err = http.DefaultClient.Do(req)
	require.NoError(b.t, err)
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	require.NoError(b.t, err)
	return answer{b.t, resp.StatusCode, resp.Header, data}, req, body, resp
}

func (b *bundle) get(path string) answer { b.t.Helper(); return b.do(call{method: "GET", path: path}) }
func (b *bundle) post(path string, v any) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: path, body: v})
}
func (b *bundle) put(path string, v any) answer {
	b.t.Helper()
	return b.do(call{method: "PUT", path: path, body: v})
}

func (a answer) is(status int) answer {
	a.t.Helper()
	require.Equal(a.t, status, a.status, "%s", a.body)
	return a
}

func (a answer) into(v any) answer {
	a.t.Helper()
	require.NoError(a.t, json.Unmarshal(a.body, v), "%s", a.body)
	return a
}

func (a answer) problem() models.Problem {
	a.t.Helper()
	require.Equal(a.t, "application/problem+json", a.header.Get("Content-Type"), "%s", a.body)
	var p models.Problem
	a.into(&p)
	require.Equal(a.t, a.status, p.Status)
	require.NotEmpty(a.t, p.Type)
	require.NotEmpty(a.t, p.Title)
	return p
}

// strictContract is the OpenAPI document in strict form: undocumented response fields are errors too.
var strictContract = sync.OnceValue(func() *openapi3.T {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	if err != nil {
		panic(err)
	}
	doc.Servers = nil // match any host
	no := false
	for _, s := range doc.Components.Schemas {
		if s.Value.AdditionalProperties.Has == nil {
			s.Value.AdditionalProperties.Has = &no
		}
	}
	return doc
})

var contract = sync.OnceValue(func() routers.Router {
	r, err := legacy.NewRouter(strictContract())
	if err != nil {
		panic(err)
	}
	return r
})

var validating sync.Mutex // the validator compiles schemas lazily

// checkContract validates the response against the OpenAPI document, and the request if it was accepted.
func checkContract(t testing.TB, req *http.Request, sent []byte, resp *http.Response, got []byte) {
	t.Helper()
	if resp.StatusCode == http.StatusMethodNotAllowed || !inContract(req.URL.Path) {
		return
	}
	validating.Lock()
	defer validating.Unlock()
	route, params, err := contract().FindRoute(req)
	if resp.StatusCode == http.StatusNotFound && err != nil {
		return // no such path
	}
	require.NoError(t, err, "%s %s", req.Method, req.URL.Path)
	media := resp.Header.Get("Content-Type")
	structured := strings.Contains(media, "json")
	options := &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, IncludeResponseStatus: true,
		ExcludeResponseBody: !structured, ExcludeRequestBody: len(sent) == 0}
	in := &openapi3filter.RequestValidationInput{Request: req, PathParams: params, Route: route, Options: options}
	if resp.StatusCode < 300 {
		req.Body = io.NopCloser(bytes.NewReader(sent))
		if err := openapi3filter.ValidateRequest(context.Background(), in); err != nil {
			require.Fail(t, "an accepted request breaks the contract", "%s %s: %s", req.Method, req.URL.Path, firstLine(err))
		}
	}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: resp.StatusCode, Header: resp.Header,
		Body: io.NopCloser(bytes.NewReader(got)), Options: options}
	if err := openapi3filter.ValidateResponse(context.Background(), out); err != nil {
		require.Fail(t, "a response breaks the contract", "%s %s answered %d: %s", req.Method, req.URL.Path, resp.StatusCode, firstLine(err))
	}
	if !structured && len(got) > 0 {
		kind, _, _ := strings.Cut(media, ";")
		r := route.Operation.Responses.Status(resp.StatusCode)
		require.NotNil(t, r.Value.Content.Get(kind), "%s is not in the contract for %s %s", kind, req.Method, req.URL.Path)
	}
}

// firstLine drops the schema that the validator prints.
func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}

func inContract(path string) bool {
	return strings.HasPrefix(path, "/v1/") || path == "/healthz" || path == "/readyz" || strings.HasPrefix(path, "/openapi")
}

// shop is a small set-up, sufficient to plan a hot day.
func shop(code string) map[string]any {
	var doc map[string]any
	if err := json.Unmarshal([]byte(shopJSON), &doc); err != nil {
		panic(err)
	}
	doc["site"].(map[string]any)["code"] = code
	return doc
}

const shopJSON = `{
 "site":{"code":"quay","name":"Example Quay","timezone":"Europe/Berlin","altitude_m":40,"currency":"EUR",
  "day_parts":[{"code":"morning","from":"08:00","to":"12:00"},{"code":"afternoon","from":"12:00","to":"18:00"}],
  "opening":[{"weekday":"fri","from":"08:00","to":"18:00"},{"weekday":"sat","from":"08:00","to":"18:00"},{"weekday":"sun","from":"08:00","to":"18:00"}],
  "setup_min":90,"store_g":40000},
 "coffees":[{"code":"house","lots":[{"code":"H-17","roasted_on":"2026-06-25","grams":9000,"place":"shelf"}],"pack_g":1000,"cost_per_kg":2400}],
 "beverages":[{"code":"flash","name":"House flash","method":"flash","coffee":"house","ratio":14.6,"ice_share":0.2,"brewer_out_temp_c":82,"bath":true,
  "cooling_ua_w_per_k":22,"target_temp_c":7,"ready_min":30,"hold_h":8,"target_tds_pct":1.4,"disposal_cost_per_kg":20,"aging_cost_per_kg_h":10}],
 "drinks":[{"code":"iced","name":"Iced house","price":420,"uses":[{"beverage":"flash","g":180}],"serving_ice_g":140},
  {"code":"long","name":"Iced long, made to order","price":400,"doses":[{"coffee":"house","dose_g":18}],"serving_ice_g":160,"water_g":150}],
 "brewers":[{"code":"Left","beverages":["flash"],"min_beverage_g":1500,"max_beverage_g":6000,"busy_min":25,"batch_cost":150}],
 "ice":{"opening_g":15000,"bin_g":60000,"bin_loss_pct_per_h":0.6,"ice_temp_c":-4,
  "makers":[{"code":"Cuber","kg_per_day_rated":42},{"code":"Back","kg_per_day_rated":20,"treated":false}],
  "plain":{"opening_g":15000,"bin_g":30000}},
 "water":{"tank_l":60,"opening_l":50,"make_l_per_h":12,"recovery_pct":50,"rinse_l_per_batch":1.5,
  "source":{"ca_mg_l":80,"mg_mg_l":15,"na_mg_l":20,"k_mg_l":2,"hco3_mg_l":240},
  "target":{"hardness_mg_l_caco3":70,"alkalinity_mg_l_caco3":40,"mg_share":0.4},"salts":["MgSO4.7H2O","NaHCO3"]},
 "costs":{"short_factor":1}}`

// setUp creates a site and returns the ETag of its set-up.
func (b *bundle) setUp(code string) string {
	b.t.Helper()
	return b.put("/v1/sites/"+code+"/setup", shop(code)).is(http.StatusCreated).header.Get("ETag")
}
