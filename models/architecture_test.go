package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// allowed lists the project packages that each layer may import: main with its commands → {api, jobs} → planner → models;
// models/store implements the interfaces of models; openapi holds the contract. The longest matching prefix of a path applies.
var allowed = map[string][]string{
	"hotday":                 {"hotday/deploy/commands", "hotday/jobs", "hotday/models"},
	"hotday/deploy/commands": {"hotday/api", "hotday/jobs", "hotday/planner", "hotday/models", "hotday/openapi", "hotday/deploy/demo", "hotday/deploy/completion"},
	"hotday/api":             {"hotday/api", "hotday/planner", "hotday/models", "hotday/openapi"},
	"hotday/jobs":            {"hotday/jobs", "hotday/planner", "hotday/models"},
	"hotday/planner":         {"hotday/planner", "hotday/models"},
	"hotday/models":          {},
	"hotday/models/store":    {"hotday/models", "hotday/models/store"},
	"hotday/openapi":         {},
	"hotday/deploy/demo":     {"hotday/models", "hotday/deploy/demo"},
	"hotday/deploy":          {},
}

// never lists exceptions to allowed: only main's commands wire the store.
var never = map[string][]string{
	"hotday": {"hotday/models/store"}, "hotday/api": {"hotday/models/store"}, "hotday/jobs": {"hotday/models/store"}, "hotday/planner": {"hotday/models/store"},
	"hotday/deploy/demo": {"hotday/models/store"}, "hotday/deploy/commands": {},
}

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
				ok = ok || under(imp, a)
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
		{"hotday/deploy/commands", []string{"hotday/testdata/demo"}}, {"hotday/jobs", []string{"hotday/planner/testdata/fixture"}},
	} {
		require.NotEmpty(t, violations(p), "%s importing %v", p.ImportPath, p.Imports)
	}
	require.Empty(t, violations(listed{"hotday/planner", []string{"hotday/planner/batch", "hotday/models", "math"}}))
}
