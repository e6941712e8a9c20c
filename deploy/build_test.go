package deploy_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWithoutACCompilerSQLiteIsTheOneInGo asks the go command which packages it would build where PATH has no C compiler, and with cgo
// switched off or on.
func TestWithoutACCompilerSQLiteIsTheOneInGo(t *testing.T) {
	t.Parallel()
	bare := t.TempDir() // a PATH with the go command alone
	tool, err := exec.LookPath("go")
	require.NoError(t, err)
	tool, err = filepath.EvalSymlinks(tool)
	require.NoError(t, err)
	if runtime.GOOS == "windows" {
		t.Skip("needs symbolic links")
	}
	require.NoError(t, os.Symlink(tool, filepath.Join(bare, "go")))
	deps := func(env ...string) string {
		cmd := exec.Command(tool, "list", "-deps", "hotday")
		for _, v := range os.Environ() {
			if name, _, _ := strings.Cut(v, "="); name != "CGO_ENABLED" && name != "CC" && name != "PATH" {
				cmd.Env = append(cmd.Env, v)
			}
		}
		cmd.Env = append(cmd.Env, env...)
		out, err := cmd.Output()
		require.NoError(t, err)
		return string(out)
	}
	const inGo, inC = "modernc.org/sqlite\n", "runtime/cgo\n"
	for name, list := range map[string]string{"no compiler": deps("PATH=" + bare), "cgo off": deps("PATH="+os.Getenv("PATH"), "CGO_ENABLED=0")} {
		require.Contains(t, list, inGo, name)
		require.NotContains(t, list, inC, name)
	}
	with := deps("PATH="+os.Getenv("PATH"), "CGO_ENABLED=1")
	require.Contains(t, with, inC)
	require.NotContains(t, with, inGo)
}
