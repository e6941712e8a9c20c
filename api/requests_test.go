package api_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/openapi"
)

// TestRequestsMadeFromTheContract sends requests that the contract describes, whole and spoilt, to every route. None may be answered
// with a status of 500 or above, or in a way that the contract does not have, and none may be accepted that the contract forbids.
// HOTDAY_REQUESTS is how many, HOTDAY_SEED from which seed.
func TestRequestsMadeFromTheContract(t *testing.T) {
	t.Parallel()
	t.Run("sqlite", func(t *testing.T) { t.Parallel(); requestsFromTheContract(t, newBundle(t), 4000) })
	t.Run("postgres", func(t *testing.T) { t.Parallel(); requestsFromTheContract(t, newBundleOnPostgres(t), 2000) })
}

func requestsFromTheContract(t *testing.T, b *bundle, requests int) {
	seed := uint64(1)
	if testing.Short() {
		requests /= 4
	}
	if n, err := strconv.Atoi(os.Getenv("HOTDAY_REQUESTS")); err == nil {
		requests = n
	}
	if n, err := strconv.ParseUint(os.Getenv("HOTDAY_SEED"), 10, 64); err == nil {
		seed = n
	}
	b.prepareChanges()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	require.NoError(t, err)
	c := &caller{chance: rand.New(rand.NewPCG(seed, 0)), words: slices.Clone(shopWords)}
	var list []*described
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			if !strings.HasSuffix(path, "/live") { // endless
				list = append(list, &described{method, path, op, slices.Concat(item.Parameters, op.Parameters)})
			}
		}
	}
	slices.SortFunc(list, func(a, b *described) int { return strings.Compare(a.path+a.method, b.path+b.method) })
	statuses, faults := map[int]int{}, map[string]string{}
	for n := range requests {
		if n%50 == 0 {
			c.restore(b)
		}
		d := list[c.chance.IntN(len(list))]
		if slow := d.costs(); slow > 1 && c.chance.IntN(slow) > 0 {
			continue
		}
		sent := c.request(d)
		if fault := faultIn(t, b, sent, func(a answer) {
			statuses[a.status]++
			c.learn(a)
		}); fault != "" && len(faults) < 50 {
			body, err := json.Marshal(sent.body)
			require.NoError(t, err)
			faults[d.method+" "+d.path+": "+fault] = fmt.Sprintf("%s %s %v %.1000s", sent.method, sent.path, sent.header, body)
		}
	}
	for fault, sent := range faults {
		t.Errorf("%s\n\tseed %d, for example %s", fault, seed, sent)
	}
	t.Logf("answers by status: %v", statuses)
	require.Greater(t, statuses[200], requests/20, "enough requests are good ones")
}

// faultIn sends a request and returns what is wrong with the answer.
func faultIn(t *testing.T, b *bundle, sent call, answered func(answer)) (fault string) {
	soft := &softly{TB: t}
	defer func() {
		if x := recover(); x != nil && x != any(soft) {
			panic(x)
		}
		fault = soft.said
	}()
	on := *b
	on.t = soft
	a := on.do(sent)
	answered(a)
	require.Less(soft, a.status, 500, "%s", a.body)
	if a.status >= 400 {
		a.problem()
	}
	return ""
}

// softly takes down a failure instead of ending the test.
type softly struct {
	testing.TB
	said string
}

func (s *softly) Errorf(format string, args ...any) {
	said := fmt.Sprintf(format, args...)
	if _, message, ok := strings.Cut(said, "Messages:"); ok {
		said = message
	}
	s.said = strings.Join(strings.Fields(said), " ")
}

func (s *softly) FailNow() { panic(s) }

// described is an operation of the contract.
type described struct {
	method, path string
	*openapi3.Operation
	all openapi3.Parameters
}

// costs is in how many draws an operation is called once, since it computes.
func (d *described) costs() int {
	switch {
	case strings.HasSuffix(d.path, "/plans") && d.method == http.MethodPost, d.path == "/v1/plan-previews":
		return 20
	case strings.HasSuffix(d.path, "/review"), strings.HasSuffix(d.path, "/forecast"), strings.HasSuffix(d.path, "/export"):
		return 5
	}
	return 1
}

// shopWords are strings that mean something to the shop of the test.
var shopWords = []string{"quay", "pier", "iced", "long", "flash", "house", "Left", "Cuber", "Back", "H-17", "till-1", "ICED-M", "morning", "afternoon", "task-1", "task-2",
	"2026-07-10", "2026-07-11", "2026-07-12", "2026-07-10T12:00:00Z", "2026-07-11T10:00:00Z", "2026-07-11T12:00:00+02:00", "made", "ice", "ada", "latest", "1", "2", "maker", "brewer", "DE", "DE-BY"}

// oddities are values that spoil a document.
var oddities = []any{nil, "", " ", "\x00", "a\nb", "\u202e", strings.Repeat("x", 300), "é", "0001-01-01", "9999-12-31T23:59:59Z", "2026-02-30", "24:00", -1, 0, 0.1, 1e-300, 1e300,
	math.MaxInt64, true, []any{}, map[string]any{}, []any{nil}, map[string]any{"unknown": 1}, "../..", "%2e%2e/", "<script>", "'; --"}

// caller makes requests by chance.
type caller struct {
	chance *rand.Rand
	words  []string // shopWords and identifiers from answers
	etag   string
}

// restore makes the shop whole again, as some requests delete it.
func (c *caller) restore(b *bundle) {
	if b.raw(call{method: "GET", path: "/v1/sites"}).status != http.StatusOK { // the key was revoked
		b.token = b.newToken("", models.ScopeManage)
	}
	a := b.raw(call{method: "GET", path: "/v1/sites/quay/setup"})
	if a.status == http.StatusNotFound {
		b.setUp("quay")
		return
	}
	c.etag = a.header.Get("ETag")
	if a := b.raw(call{method: "PUT", path: "/v1/sites/quay/setup", body: shop("quay"), header: map[string]string{"If-Match": c.etag}}); a.status == http.StatusOK {
		c.etag = a.header.Get("ETag")
	}
}

// learn remembers identifiers.
func (c *caller) learn(a answer) {
	if e := a.header.Get("ETag"); e != "" {
		c.etag = e
	}
	var v any
	if json.Unmarshal(a.body, &v) != nil {
		return
	}
	c.learnFrom(v)
	if known := len(shopWords) + 300; len(c.words) > known {
		c.words = append(slices.Clone(shopWords), c.words[len(c.words)-100:]...)
	}
}

func (c *caller) learnFrom(v any) {
	switch x := v.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(x)) {
			if id, ok := x[k].(string); ok && (k == "id" || k == "code" || k == "delivery") && id != "" {
				c.words = append(c.words, id)
			}
			c.learnFrom(x[k])
		}
	case []any:
		for _, e := range x[:min(len(x), 20)] {
			c.learnFrom(e)
		}
	}
}

func (c *caller) one(in int) bool { return c.chance.IntN(in) == 0 }

func (c *caller) odd() any {
	v := pick(c, oddities)
	switch v.(type) {
	case map[string]any, []any:
		return clone(v)
	}
	return v
}

func pick[T any](c *caller, list []T) T { return list[c.chance.IntN(len(list))] }

func (c *caller) request(d *described) call {
	r := call{method: d.method, path: d.path, header: map[string]string{}}
	query := url.Values{}
	for _, ref := range d.all {
		p := ref.Value
		text := func() string {
			if c.one(8) {
				return c.plain(c.odd())
			}
			return c.plain(c.value(p.Schema.Value, p.Name, 0))
		}
		switch p.In {
		case "path":
			value := text()
			if p.Name == "site" && !c.one(10) {
				value = "quay"
			}
			if p.Name == "rev" && !c.one(4) {
				value = pick(c, []string{"latest", "1", "2"})
			}
			if value == "" || value == "." || strings.Contains(value, "..") || strings.ContainsAny(value, "/%") { // other addresses
				value = "none"
			}
			r.path = strings.ReplaceAll(r.path, "{"+p.Name+"}", url.PathEscape(value))
		case "query":
			if p.Required && !c.one(10) || c.one(3) {
				if value := text(); value != "" { // an empty one is as good as none
					query.Add(p.Name, value)
				}
			}
		case "header":
			if p.Required && !c.one(10) || c.one(3) {
				value := text()
				if p.Name == "If-Match" && !c.one(4) {
					value = c.etag
				}
				if isHeader(value) {
					r.header[p.Name] = value
				}
			}
		}
	}
	if c.one(30) {
		query.Add("unknown", "1")
	}
	if len(query) > 0 {
		r.path += "?" + query.Encode()
	}
	if d.RequestBody != nil {
		c.body(d, &r)
	}
	return r
}

// isHeader reports whether a client can send a value in a header.
func isHeader(v string) bool {
	return !strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r > '~' })
}

func (c *caller) body(d *described, r *call) {
	content := d.RequestBody.Value.Content
	media := pick(c, slices.Sorted(maps.Keys(content)))
	if !strings.Contains(media, "json") {
		r.header["Content-Type"] = media
		r.body = pick(c, []string{"item,start,end,count\nICED-L,2026-07-09 10:00,2026-07-09 11:00,4\n", "a,b\n1", "", "\x00\x01PK\x03\x04", "item;start;end;count\n;;;\n", "name=1&name=2"})
		return
	}
	var v any
	switch example := content[media].Example; {
	case example != nil && !c.one(3):
		v = clone(example)
	case content[media].Schema != nil:
		v = c.value(content[media].Schema.Value, "", 0)
	}
	if d.path == "/v1/sites/{site}/setup" || d.path == "/v1/sites/{site}/setup/{part}" {
		v = any(shop("quay"))
	}
	for c.one(2) {
		v = c.spoil(v)
	}
	switch {
	case c.one(60):
		r.body = pick(c, []string{"", "{", "null", "[]", `{"a":1}{"b":2}`, `{"a":1,"a":2}`, "\xff", strings.Repeat("[", 2000)})
	default:
		r.body = v
		if v == nil {
			r.body = "null"
		}
	}
	if c.one(60) {
		r.header["Content-Type"] = pick(c, []string{"text/plain", "application/json; charset=latin-1", "application/x-www-form-urlencoded", "nonsense/"})
	}
}

func clone(v any) any {
	data, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	var out any
	if err := json.Unmarshal(data, &out); err != nil {
		panic(err)
	}
	return out
}

// plain is a value as text.
func (c *caller) plain(v any) string {
	if s, ok := v.(string); ok {
		return s
	}
	return fmt.Sprint(v)
}

// spoil changes one place of a document.
func (c *caller) spoil(v any) any {
	switch x := v.(type) {
	case map[string]any:
		keys := slices.Sorted(maps.Keys(x))
		switch {
		case len(keys) == 0 || c.one(8):
			x[pick(c, []string{"unknown", "id", "site", "", "from"})] = c.odd()
		case c.one(6):
			delete(x, pick(c, keys))
		default:
			k := pick(c, keys)
			x[k] = c.spoil(x[k])
		}
		return x
	case []any:
		switch {
		case len(x) == 0:
			return c.odd()
		case c.one(6):
			return append(x, clone(pick(c, x))) // twice
		case c.one(6):
			return []any{}
		}
		i := c.chance.IntN(len(x))
		x[i] = c.spoil(x[i])
		return x
	case float64:
		if c.one(2) {
			return pick(c, []any{-x, x * 1000, x / 1000, x + 0.5, math.Trunc(x), 0.0, 1e12})
		}
	case string:
		if c.one(2) {
			return pick(c, c.words)
		}
	}
	return c.odd()
}

// value is one that a schema describes, as far as schemas go.
func (c *caller) value(s *openapi3.Schema, name string, depth int) any {
	switch {
	case len(s.Enum) > 0:
		return pick(c, s.Enum)
	case len(s.AllOf) > 0:
		out := map[string]any{}
		for _, part := range s.AllOf {
			if m, ok := c.value(part.Value, name, depth).(map[string]any); ok {
				maps.Copy(out, m)
			} else {
				return c.value(part.Value, name, depth)
			}
		}
		return out
	case len(s.OneOf) > 0:
		return c.value(pick(c, s.OneOf).Value, name, depth)
	case len(s.AnyOf) > 0:
		return c.value(pick(c, s.AnyOf).Value, name, depth)
	}
	is := func(kind string) bool { return s.Type != nil && s.Type.Includes(kind) }
	switch {
	case is("object") || len(s.Properties) > 0:
		out := map[string]any{}
		for _, k := range slices.Sorted(maps.Keys(s.Properties)) {
			if slices.Contains(s.Required, k) || depth < 4 && c.one(2) {
				out[k] = c.value(s.Properties[k].Value, k, depth+1)
			}
		}
		return out
	case is("array"):
		out := []any{}
		for range int(s.MinItems) + c.chance.IntN(3) {
			if s.Items != nil {
				out = append(out, c.value(s.Items.Value, name, depth+1))
			}
		}
		return out
	case is("boolean"):
		return c.one(2)
	case is("integer"), is("number"):
		lo, hi := 0.0, 100.0
		if s.Min != nil {
			lo, hi = *s.Min, *s.Min+100
		}
		if s.Max != nil {
			hi = *s.Max
		}
		v := pick(c, []float64{lo, hi, lo + c.chance.Float64()*(hi-lo), lo + c.chance.Float64()*(hi-lo)})
		if is("integer") {
			return math.Round(v)
		}
		return v
	}
	now := time.Date(2026, 7, 10, 13, 0, 0, 0, time.UTC)
	switch s.Format {
	case "date":
		return now.AddDate(0, 0, c.chance.IntN(5)-2).Format(time.DateOnly)
	case "date-time":
		return now.Add(time.Duration(c.chance.IntN(96)-48) * time.Hour).Format(time.RFC3339)
	}
	return pick(c, c.words)
}
