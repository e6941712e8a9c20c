package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// allowed lists the project packages that each layer may import: main with its commands → {api, jobs} → planner → models;
// models/store implements the interfaces of models; openapi holds the contract. The longest matching prefix of a path applies.
var allowed = map[string][]string{
	"hotday":                     {"hotday/deploy/commands", "hotday/jobs", "hotday/models"},
	"hotday/deploy/commands":     {"hotday/api", "hotday/jobs", "hotday/planner", "hotday/models", "hotday/openapi", "hotday/deploy/demo", "hotday/deploy/completion", "hotday/deploy/telemetry"},
	"hotday/api":                 {"hotday/api", "hotday/planner", "hotday/models", "hotday/openapi"},
	"hotday/jobs":                {"hotday/jobs", "hotday/planner", "hotday/models"},
	"hotday/models":              {},
	"hotday/models/store":        {"hotday/models", "hotday/models/store"},
	"hotday/models/store/pgtest": {},
	"hotday/openapi":             {},
	"hotday/deploy/demo":         {"hotday/models", "hotday/deploy/demo"},
	"hotday/deploy/telemetry":    {"hotday/models"},
	"hotday/deploy":              {},
	"hotday/deploy/fleet":        {"hotday/api", "hotday/jobs", "hotday/planner", "hotday/models", "hotday/deploy/demo", "hotday/deploy/loopback"},
	"hotday/deploy/load":         {"hotday/deploy/loopback"},
	"hotday/deploy/worst":        {"hotday/deploy/loopback"},

	// planner → {batch, demand, risk, physics, say} → models; facts, sheet, calc and those who follow a plan are above or beside it.
	"hotday/planner":        join(fields, physics, "hotday/planner/cores", "hotday/planner/margin", "hotday/planner/say", "hotday/models"),
	"hotday/planner/facts":  join(fields, physics, "hotday/planner", "hotday/planner/facts", "hotday/planner/learnt", "hotday/planner/review", "hotday/planner/say", "hotday/models"),
	"hotday/planner/learnt": join(physics, "hotday/planner/learnt", "hotday/models"),
	"hotday/planner/review": join(fields, physics, "hotday/planner/margin", "hotday/planner/review", "hotday/planner/say", "hotday/models"),
	"hotday/planner/sheet":  {"hotday/planner/sheet", "hotday/planner/say", "hotday/models"},
	"hotday/planner/calc":   join(fields, physics, "hotday/planner/calc", "hotday/planner/say", "hotday/models"),
	"hotday/planner/say":    join(fields, physics, "hotday/planner/say", "hotday/models"),
	"hotday/planner/paper":  join(fields, "hotday/planner/paper", "hotday/planner/say", "hotday/models"),
	"hotday/planner/tables": {"hotday/planner/tables", "hotday/planner/say", "hotday/models"},
	"hotday/planner/ical":   {"hotday/planner/ical", "hotday/planner/say", "hotday/models"},
	"hotday/planner/replay": join(fields, physics, "hotday/planner/cores", "hotday/planner/margin", "hotday/planner/replay", "hotday/planner", "hotday/planner/say", "hotday/models"),
	"hotday/planner/batch":  {"hotday/planner/batch", "hotday/models"},
	"hotday/planner/demand": {"hotday/planner/demand", "hotday/models"},
	"hotday/planner/margin": join(physics, "hotday/planner/margin", "hotday/models"),
	"hotday/planner/risk":   {"hotday/planner/risk", "hotday/planner/demand", "hotday/models"},
	"hotday/planner/brew":   join(physics, "hotday/models"),
	"hotday/planner/chill":  join(physics, "hotday/models"),
	"hotday/planner/ice":    join(physics, "hotday/models"),
	"hotday/planner/water":  join(physics, "hotday/models"),
	"hotday/planner/bean":   join(physics, "hotday/models"),

	"hotday/planner/holidays": {"hotday/models"},
	"hotday/planner/cores":    {},

	// The auditor judges plans and sheets by the documents alone, and serves tests only: never lists who may not import it.
	"hotday/planner/audit":       {"hotday/models"},
	"hotday/planner/audit/shops": {"hotday/models"},
}

// fields and physics are the parts of planner that compute and know nothing of plans.
var (
	fields  = []string{"hotday/planner/batch", "hotday/planner/demand", "hotday/planner/risk"}
	physics = []string{"hotday/planner/brew", "hotday/planner/chill", "hotday/planner/ice", "hotday/planner/water", "hotday/planner/bean"}
)

// engine is the one package whose name in a rule does not include the packages below it.
const engine = "hotday/planner"

func covers(rule, imp string) bool { return imp == rule || (rule != engine && under(imp, rule)) }

func join(a []string, more ...any) []string {
	out := slices.Clone(a)
	for _, m := range more {
		switch m := m.(type) {
		case string:
			out = append(out, m)
		case []string:
			out = append(out, m...)
		}
	}
	return out
}

// never lists exceptions to allowed: only main's commands wire the store, and the auditor is for tests.
var never = map[string][]string{
	"hotday": {"hotday/models/store", auditor}, "hotday/api": {"hotday/models/store", auditor}, "hotday/jobs": {"hotday/models/store", auditor},
	"hotday/planner": {"hotday/models/store", auditor}, "hotday/deploy/demo": {"hotday/models/store", auditor}, "hotday/deploy/commands": {auditor},
	"hotday/deploy/fleet": {auditor},
}

// auditor is the package that checks plans in tests.
const auditor = "hotday/planner/audit"

// forbiddenInPlanner keeps the planner pure: no files, network, database, log or global random numbers.
var forbiddenInPlanner = []string{"os", "net", "net/http", "database/sql", "log", "log/slog", "math/rand", "gorm.io/gorm", "github.com/gin-gonic/gin"}

type listed struct {
	ImportPath string
	Imports    []string
}

func under(path, prefix string) bool { return path == prefix || strings.HasPrefix(path, prefix+"/") }

func ruleFor(path string, rules map[string][]string) []string {
	best := ""
	for prefix := range rules {
		if under(path, prefix) && len(prefix) > len(best) {
			best = prefix
		}
	}
	return rules[best]
}

// violations lists the imports of a package that its layer may not have.
func violations(p listed) []string {
	var wrong []string
	for _, imp := range p.Imports {
		if strings.HasPrefix(imp, "hotday") {
			ok := false
			for _, a := range ruleFor(p.ImportPath, allowed) {
				ok = ok || covers(a, imp) || (a == engine && !under(p.ImportPath, engine) && under(imp, engine))
			}
			for _, n := range ruleFor(p.ImportPath, never) {
				ok = ok && !under(imp, n)
			}
			ok = ok && !strings.Contains(imp, "/testdata/")
			if !ok {
				wrong = append(wrong, imp)
			}
			continue
		}
		if under(p.ImportPath, "hotday/planner") {
			for _, f := range forbiddenInPlanner {
				if imp == f {
					wrong = append(wrong, imp)
				}
			}
		}
	}
	return wrong
}

func TestImportsFollowTheLayers(t *testing.T) {
	t.Parallel()
	// Without -deps, hotday/... leaves out packages under testdata, even those that the binary imports.
	out, err := exec.Command("go", "list", "-deps", "-json=ImportPath,Imports", "hotday/...").Output()
	require.NoError(t, err)
	dec, seen := json.NewDecoder(bytes.NewReader(out)), 0
	for {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if !under(p.ImportPath, "hotday") {
			continue
		}
		seen++
		for _, w := range violations(p) {
			t.Errorf("%s imports %s: main → {api, jobs} → planner → models, and only main's commands wire the store", p.ImportPath, w)
		}
	}
	require.Greater(t, seen, 1, "go list found the packages")
}

// ./... skips testdata, so Go files there are not vetted, tested or linted.
func TestNoCodeInTestdata(t *testing.T) {
	t.Parallel()
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.Contains(filepath.ToSlash(path), "/testdata/") && filepath.Ext(path) == ".go" {
			t.Errorf("%s: Go code does not belong in testdata", path)
		}
		return err
	}))
}

func TestViolationsAreFound(t *testing.T) {
	t.Parallel()
	for _, p := range []listed{
		{"hotday/api", []string{"hotday/jobs"}}, {"hotday/jobs", []string{"hotday/api"}}, {"hotday/models", []string{"hotday/planner"}},
		{"hotday/planner/risk", []string{"hotday/api/web"}}, {"hotday/planner", []string{"hotday/models/store"}}, {"hotday", []string{"hotday/models/store"}},
		{"hotday/api/web", []string{"hotday/models/store"}}, {"hotday/planner/batch", []string{"os"}}, {"hotday/models/store", []string{"hotday/planner"}},
		{"hotday/deploy/demo", []string{"hotday/models/store"}}, {"hotday/deploy/demo", []string{"hotday/planner"}},
		{"hotday/planner", []string{"hotday/planner/facts"}}, {"hotday/planner", []string{"hotday/planner/sheet"}}, {"hotday/planner/sheet", []string{"hotday/planner"}},
		{"hotday/planner/brew", []string{"hotday/planner/say"}}, {"hotday/planner/review", []string{"hotday/planner/facts"}},
		{"hotday/planner/batch", []string{"hotday/planner/demand"}}, {"hotday/planner/replay", []string{"hotday/planner/facts"}},
		{"hotday/planner/audit", []string{"hotday/planner/brew"}}, {"hotday/planner/audit", []string{"hotday/planner"}}, {"hotday/planner/audit", []string{"hotday/planner/sheet"}},
		{"hotday/planner/sheet", []string{"hotday/planner/audit"}}, {"hotday/deploy/commands", []string{"hotday/planner/audit"}}, {"hotday/api", []string{"hotday/planner/audit/shops"}},
		{"hotday/deploy/commands", []string{"hotday/testdata/demo"}}, {"hotday/jobs", []string{"hotday/planner/testdata/fixture"}},
	} {
		require.NotEmpty(t, violations(p), "%s importing %v", p.ImportPath, p.Imports)
	}
	require.Empty(t, violations(listed{"hotday/planner", []string{"hotday/planner/batch", "hotday/models", "math"}}))
	require.Empty(t, violations(listed{"hotday/api", []string{"hotday/planner/sheet", "hotday/planner"}}))
}

// storesNamed lists where Go source names a store interface of models.
func storesNamed(t *testing.T, file string, source any) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, source, 0)
	require.NoError(t, err)
	var found []string
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && x.Name == "models" && storeInterface(s.Sel.Name) {
				found = append(found, "models."+s.Sel.Name)
			}
		}
		return true
	})
	return found
}

func storeInterface(name string) bool {
	return strings.HasSuffix(name, "Store") && !slices.Contains([]string{"ColdStore", "TaskStore", "ReadingStore"}, name) || name == "Queue" || name == "Worker"
}

// Of planner only facts reads stored data.
func TestOnlyFactsSeesTheStore(t *testing.T) {
	t.Parallel()
	seen := false
	require.NoError(t, filepath.WalkDir("../planner", func(path string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return err
		}
		names := storesNamed(t, path, nil)
		if strings.HasPrefix(filepath.ToSlash(path), "../planner/facts/") {
			seen = seen || len(names) > 0
		} else if len(names) > 0 {
			t.Errorf("%s names %v: reading what is stored is for planner/facts", path, names)
		}
		return nil
	}))
	require.True(t, seen, "facts reads the store")
	require.Equal(t, []string{"models.SiteStore"}, storesNamed(t, "broken.go", "package planner\nfunc read(s models.SiteStore) {}"))
}
