package deploy_test

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/deploy/loopback"
)

// Clients generated from the contract work against the program. They are not committed: a generator makes them in seconds, and what an
// integrator generates is what must work.
func TestClientsGeneratedFromTheContractWork(t *testing.T) {
	t.Parallel()
	t.Run("Go", func(t *testing.T) {
		t.Parallel()
		dir := copyOf(t, filepath.Join("..", "openapi", "clients", "go"))
		if out, err := exec.CommandContext(t.Context(), "go", "-C", dir, "mod", "download").CombinedOutput(); err != nil {
			without(t, "the modules of openapi/clients/go", string(out))
		}
		require.NoError(t, os.Mkdir(filepath.Join(dir, "hotday"), 0o755))
		run(t, dir, nil, "go", "tool", "oapi-codegen", "-config", "config.yaml", contractPath(t))
		client, err := os.ReadFile(filepath.Join(dir, "hotday", "client.go"))
		require.NoError(t, err)
		require.NotContains(t, string(client), "float32")
		run(t, dir, nil, "go", "vet", "./...")
		run(t, dir, nil, "go", "build", "-o", "client", ".")
		useClient(t, dir, filepath.Join(dir, "client"))
	})
	t.Run("TypeScript", func(t *testing.T) {
		t.Parallel()
		modules := nodeModules(t)
		dir := copyOf(t, filepath.Join("..", "openapi", "clients", "typescript"))
		require.NoError(t, os.Symlink(modules, filepath.Join(dir, "node_modules")))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "package.json"), []byte(`{"type": "module"}`), 0o644))
		run(t, dir, nil, filepath.Join(modules, ".bin", "openapi-typescript"), contractPath(t), "-o", "schema.d.ts")
		run(t, dir, nil, filepath.Join(modules, ".bin", "tsc"), "-p", ".")
		useClient(t, dir, "node", "main.js")
	})
}

// useClient runs a client against an empty service; it prints what it has done.
func useClient(t *testing.T, dir string, command ...string) {
	t.Helper()
	db := filepath.Join(t.TempDir(), "hotday.db")
	key, _, exit := hotday(t, "", "token", "new", "--db", db, "--scope", "manage", "--name", "client")
	require.Zero(t, exit)
	r := start(t, (*exec.Cmd).StderrPipe, nil, "serve", "--db", db, "--listen", "127.0.0.1:0")
	address := r.waitFor(`listening on (http://127\.0\.0\.1:\d+)`)
	doc, err := os.ReadFile(filepath.Join("..", "testdata", "requests", "weekend.json"))
	require.NoError(t, err)
	var request map[string]any
	require.NoError(t, json.Unmarshal(doc, &request))
	setup, err := json.Marshal(loopback.SetupOf(request))
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), command[0], append(command[1:], address)...)
	cmd.Dir, cmd.Stdin = dir, bytes.NewReader(setup)
	cmd.Env = append(os.Environ(), "HOTDAY_KEY="+strings.TrimSpace(key))
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	for _, said := range []string{"signed in with", "set up", "counts: 1 new", "plan revision 1", "sheet of revision 1", "problem /problems/invalid at /counts/0/window_end"} {
		require.Contains(t, string(out), said)
	}
	r.stop(os.Interrupt)
}

// nodeModules is the folder of the packages in openapi/node, of the versions in its lock file.
func nodeModules(t *testing.T) string {
	t.Helper()
	needs(t, "node", "the packages of openapi/node run on it")
	dir := os.Getenv("HOTDAY_CONTRACT_TOOLS")
	if dir == "" {
		dir = "/usr/local/lib/hotday-contract-tools"
	}
	want, err := os.ReadFile(filepath.Join("..", "openapi", "node", "package-lock.json"))
	require.NoError(t, err)
	have, err := os.ReadFile(filepath.Join(dir, "package-lock.json"))
	if _, missing := os.Stat(filepath.Join(dir, "node_modules", ".bin", "tsc")); err != nil || missing != nil || !bytes.Equal(want, have) {
		without(t, "the packages of openapi/node in "+dir, "deploy/test-tools.sh installs them")
	}
	return filepath.Join(dir, "node_modules")
}

func contractPath(t *testing.T) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "openapi", "openapi.yaml"))
	require.NoError(t, err)
	return path
}

func copyOf(t *testing.T, folder string) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS(folder)))
	return dir
}

// run runs a program in a folder and returns what it prints.
func run(t *testing.T, dir string, env []string, command ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), command[0], command[1:]...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), env...)
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s: %s", strings.Join(command, " "), out)
	return string(out)
}
