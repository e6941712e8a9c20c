package deploy_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The linters' rules are in openapi/lint, each exception with its reason.
func TestTheContractPassesItsLinters(t *testing.T) {
	t.Parallel()
	rules, err := filepath.Abs(filepath.Join("..", "openapi", "lint"))
	require.NoError(t, err)
	bin := filepath.Join(nodeModules(t), ".bin")
	dir := t.TempDir()

	redocly := exec.CommandContext(t.Context(), filepath.Join(bin, "redocly"), "lint", "--config", filepath.Join(rules, "redocly.yaml"), "--format", "json", contractPath(t))
	redocly.Dir, redocly.Env = dir, append(os.Environ(), "REDOCLY_TELEMETRY=off", "REDOCLY_SUPPRESS_UPDATE_NOTICE=true")
	said, err := redocly.Output()
	require.NotEmpty(t, said, "redocly: %v", err)
	var found struct {
		Totals struct{ Errors, Warnings, Ignored int }
	}
	require.NoError(t, json.Unmarshal(said, &found), "%s", said)
	require.Zero(t, found.Totals.Errors+found.Totals.Warnings, "%s", said)
	require.Equal(t, 1, found.Totals.Ignored, "exceptions have a reason")

	run(t, dir, nil, filepath.Join(bin, "spectral"), "lint", "--ruleset", filepath.Join(rules, "spectral.yaml"), "--fail-severity", "warn", contractPath(t))
}

func TestChangesThatBreakClientsAreFound(t *testing.T) {
	t.Parallel()
	released := filepath.Join("..", "openapi", "released.yaml")
	compare := func(contract string) (string, error) {
		out, err := exec.CommandContext(t.Context(), filepath.Join("..", "openapi", "breaking.sh"), released, contract).CombinedOutput()
		return string(out), err
	}
	said, err := compare(contractPath(t))
	if err != nil && strings.Contains(said, "oasdiff@") {
		without(t, "oasdiff", said)
	}
	require.NoError(t, err, "the contract would break clients of the last release:\n%s", said)

	contract := file(t, released)
	for _, x := range []struct{ name, from, to, found string }{
		{"a field of an answer", "required: [new, replaced, unchanged, unmapped]", "required: [new, replaced, unchanged]", "unmapped"},
		{"a field of a request", "        note: {", "        remark: {", "note"},
		{"an operation", "  /v1/sites/{site}/export:\n", "  /v1/sites/{site}/archive:\n", "/export"},
	} {
		require.Contains(t, contract, x.from, x.name)
		changed := filepath.Join(t.TempDir(), "openapi.yaml")
		require.NoError(t, os.WriteFile(changed, []byte(strings.Replace(contract, x.from, x.to, 1)), 0o600))
		said, err := compare(changed)
		require.Error(t, err, x.name)
		require.Contains(t, said, x.found, x.name)
	}
}
