package web_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"io/fs"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/texts"
)

var (
	verb = regexp.MustCompile(`%[-+# 0-9.*\[\]]*[a-zA-Z%]`)
	// wordings are the functions and types of whose texts an error is made.
	wordings = regexp.MustCompile(`^(Errorf|Invalid|New|FieldError|Error|RowError|CellError|bad|add|addError|malformed|unreadable|fault|within|fail)$`)
)

// message is the text of an error: its pattern, and the longest part that it always holds.
type message struct {
	pattern *regexp.Regexp
	always  string
}

// in is what a text in lower case has of the message, "" for none.
func (m message) in(text string) string {
	if !strings.Contains(text, m.always) {
		return ""
	}
	return m.pattern.FindString(text)
}

// apiMessages are the texts of errors in the Go files below the folders, in lower case.
func apiMessages(t *testing.T, folders ...string) map[string]message {
	t.Helper()
	out := map[string]message{}
	for _, folder := range folders {
		require.NoError(t, filepath.WalkDir(folder, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
			ast.Inspect(file, func(n ast.Node) bool {
				var called ast.Expr
				switch x := n.(type) {
				case *ast.CallExpr:
					called = x.Fun
				case *ast.CompositeLit:
					called = x.Type
				}
				id := ""
				switch x := called.(type) {
				case *ast.Ident:
					id = x.Name
				case *ast.SelectorExpr:
					id = x.Sel.Name
				}
				if !wordings.MatchString(id) {
					return true
				}
				ast.Inspect(n, func(m ast.Node) bool {
					if lit, ok := m.(*ast.BasicLit); ok && lit.Kind == token.STRING {
						s, _ := strconv.Unquote(lit.Value)
						parts := verb.Split(s, -1)
						if len(strings.Fields(strings.Join(parts, " "))) < 3 { // too short to be told from a page's own words
							return true
						}
						always := ""
						for i, part := range parts {
							if part = strings.ToLower(part); len(part) > len(always) {
								always = part
							}
							parts[i] = regexp.QuoteMeta(part)
						}
						out[s] = message{regexp.MustCompile(strings.Join(parts, `.{0,80}`)), always}
					}
					return true
				})
				return true
			})
			return err
		}))
	}
	return out
}

// The API's wording stays in the API: whatever is typed into a page's form, the answer is in the words of the pages' catalogue.
func TestNoPageShowsAnAPIMessage(t *testing.T) {
	t.Parallel()
	messages := apiMessages(t, "..", "../../models", "../../planner/say", "../../planner/calc", "../../planner/facts")
	for _, key := range texts.For("en").Keys() {
		text := strings.ToLower(texts.For("en").Say(key))
		maps.DeleteFunc(messages, func(_ string, m message) bool { return m.in(text) != "" }) // a page says so too
	}
	require.Greater(t, len(messages), 200)
	require.Contains(t, messages, "%q is not a valid sign-in name")

	s := newShop(t)
	v := s.visit(t)
	shows := func(where string, status int, page string) {
		t.Helper()
		said := strings.ToLower(read(html.UnescapeString(page)))
		assert.NotContains(t, said, "accepted:", where)
		assert.NotEqual(t, http.StatusInternalServerError, status, where)
		for s, m := range messages {
			if at := m.in(said); at != "" {
				t.Errorf("%s (%d) shows the API's %q: %q", where, status, s, at)
			}
		}
	}
	post := func(path string, form url.Values) {
		t.Helper()
		status, page := v.post(path, form)
		assert.GreaterOrEqual(t, status, 400, "%s takes %v", path, form)
		shows(path+" "+form.Encode(), status, page)
	}
	bad := []string{"", "x", "-1", "1e9", "31:61", "a/b\x00", strings.Repeat("x", 3000)}
	for _, section := range []string{"shop", "hours", "people", "safety", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs"} {
		path := "/s/lido/setup/" + section
		whole := typed(v.get(path))
		for _, text := range bad {
			f := url.Values{"etag": whole["etag"]}
			for name, was := range whole {
				if f.Set(name, text); !strings.HasPrefix(name, "/") || was[0] == "true" {
					f[name] = was
				}
			}
			for _, to := range []string{path, path + "?check=1"} {
				status, page := v.post(to, f)
				shows(to+" "+text, status, page)
			}
		}
		stale := url.Values{}
		for name, was := range whole {
			stale[name] = was
		}
		stale.Set("etag", "none")
		status, page := v.post(path, stale)
		shows(path+" stale", status, page)
	}
	for kind, fields := range map[string][]string{"event": {"name", "from", "to", "factor"}, "holiday": {"name", "from", "to", "factor"}, "closed": {"name", "from", "to"},
		"outage": {"what", "from", "to"}, "attention": {"starts", "from", "to"}, "off_sale": {"drink", "from", "to"}} {
		for _, text := range append(bad, "2026-07-11T12:00") {
			f := url.Values{}
			for _, name := range fields {
				f.Set("/"+kind+"/"+name, text)
			}
			post("/s/lido/known/"+kind, f)
		}
	}
	post("/s/lido/known/event", url.Values{"was": {"gone"}})
	post("/s/lido/known/picnic", url.Values{})
	post("/s/lido/known", url.Values{"back": {"gone"}})
	post("/s/lido/holidays", url.Values{"year": {"x"}})
	post("/s/lido/heat", url.Values{"date": {"soon"}, "high": {"35"}})
	for _, high := range append(slices.DeleteFunc(slices.Clone(bad), func(s string) bool { return s == "-1" }), "99") {
		post("/s/lido/heat", url.Values{"date": {"2026-07-11"}, "high": {high}})
	}
	long := strings.Repeat("x", 300)
	post("/s/lido/people/screens-pair", url.Values{"code": {"none"}, "name": {"Bar"}})
	post("/s/lido/people/screens-change", url.Values{"id": {"none"}, "name": {""}})
	post("/s/lido/people/screens-end", url.Values{"id": {"none"}})
	for _, name := range []string{"", long} {
		post("/s/lido/people/accounts-add", url.Values{"name": {name}, "sign_in": {"ada@example.com"}, "scope": {"read"}})
	}
	post("/s/lido/people/keys-add", url.Values{"name": {long}, "scope": {"read"}})
	post("/s/lido/people/accounts-add", url.Values{"name": {"Ada"}, "sign_in": {"ada b"}, "scope": {"read"}})
	post("/s/lido/people/accounts-add", url.Values{"name": {"Ada"}, "sign_in": {"ada"}, "scope": {}})
	post("/s/lido/people/accounts-add", url.Values{"name": {"Ada"}, "sign_in": {"ada"}, "scope": {"all"}})
	post("/s/lido/people/accounts-change", url.Values{"id": {"none"}, "name": {"Ada"}, "scope": {"read"}})
	post("/s/lido/people/accounts-link", url.Values{"id": {"none"}})
	post("/s/lido/people/accounts-end", url.Values{"id": {"none"}})
	post("/s/lido/people/keys-add", url.Values{"name": {"till"}, "scope": {"all"}})
	post("/s/lido/people/keys-end", url.Values{"id": {"none"}})
	post("/s/lido/people/sessions-end", url.Values{"id": {"none"}})
	for _, address := range []string{"", "http://example.com", "https://127.0.0.1/x", "ftp:x"} {
		post("/s/lido/people/webhooks-add", url.Values{"url": {address}, "event": {"plan.published"}})
	}
	post("/s/lido/people/webhooks-add", url.Values{"url": {"https://example.com/h"}, "event": {"picnic"}})
	post("/s/lido/people/webhooks-replay", url.Values{"id": {"none"}, "delivery": {"none"}})
	post("/s/lido/people/webhooks-end", url.Values{"id": {"none"}})
	post("/s/lido/people/picnic", url.Values{})
	post("/account/password", url.Values{"old": {"x"}, "password": {"y"}})
	post("/account/session", url.Values{"id": {"none"}})
	post("/welcome", url.Values{"code": {"none"}, "password": {"x"}})
	post("/sign-in", url.Values{"key": {"x"}})
	post("/sign-in", url.Values{"name": {"ada"}, "key": {"x"}})
	for _, f := range []url.Values{{"code": {""}}, {"code": {"lido"}, "name": {"L"}, "timezone": {"Mars"}, "currency": {"x"}},
		{"code": {"lido"}, "name": {"L"}, "timezone": {"Europe/Berlin"}, "currency": {"EUR"}}, {"code": {"a/b"}, "name": {long}}} {
		post("/setup/new", f)
	}
	post("/s/lido/till-items", url.Values{"item0": {"A"}, "source0": {"till"}, "drink0": {"tea"}, "factor0": {"1"}})
	post("/s/lido/till-items", url.Values{"item0": {"A"}, "source0": {"till"}, "drink0": {"tea"}, "factor0": {"x"}, "from0": {"soon"}})
	post("/s/lido/setup-book", url.Values{})
	post("/s/lido/setup-book/take", url.Values{"document": {"{"}})
	post("/s/lido/setup-book/take", url.Values{"document": {`{"site":{"code":"other"}}`}})
	for _, data := range []string{"", "not a workbook"} {
		status, page := v.upload("/s/lido/setup-book", []byte(data))
		shows("a file that is not a workbook", status, page)
	}
	post("/s/lido/weekend/try", url.Values{"warning": {"x"}, "way": {"0"}})
	post("/s/lido/sign-off", url.Values{"value": {"x"}})
	post("/s/lido/sign-off", url.Values{"value": {"1"}, "rule": {"picnic"}})
	post("/s/lido/review/learnt", url.Values{"id": {"none"}, "value": {"x"}})
	post("/s/lido/review/learnt", url.Values{"id": {"none"}, "value": {"1"}})
	post("/s/lido/review/learnt", url.Values{"id": {"none"}, "undo": {"yes"}})
	for _, path := range []string{"/s/lido/recipes?beverage=tea", "/s/elsewhere/weekend", "/s/lido/setup/none", "/welcome?code=none"} {
		r, err := v.http.Get(s.base + path)
		require.NoError(t, err)
		page := body(t, r)
		_ = r.Body.Close()
		shows(path, r.StatusCode, page)
	}
}

// Scripts show the sentence of a refusal, which is in the pages' words, and nothing else of a problem.
func TestScriptsDoNotReadTheWordingOfAProblem(t *testing.T) {
	t.Parallel()
	wording := regexp.MustCompile(`[\w)\]]\??\.(detail|accepted|title)\b`)
	files, err := filepath.Glob("static/*.js")
	require.NoError(t, err)
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, at := range wording.FindAllString(string(b), -1) {
			assert.Contains(t, []string{"document.title", "s.accepted"} /* of the outbox: an item that was */, at, name)
		}
	}
}
