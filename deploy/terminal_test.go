package deploy_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const oneDay = "../testdata/requests/one-day.json"

func TestPlanOnPaperAndAsCalendar(t *testing.T) {
	t.Parallel()
	out := filepath.Join(t.TempDir(), "plan.pdf")
	stdout, stderr, exit := hotday(t, "", "plan", oneDay, "--format", "pdf", "--paper", "letter", "-o", out)
	require.Zero(t, exit, stderr)
	require.Empty(t, stdout)
	written, err := os.ReadFile(out)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(written), "%PDF-"))
	piped, _, exit := hotday(t, "", "plan", oneDay, "--format", "pdf", "--paper", "letter")
	require.Zero(t, exit)
	require.Equal(t, string(written), piped, "the same plan gives the same bytes")

	feed, _, exit := hotday(t, "", "plan", oneDay, "--format", "ics")
	require.Zero(t, exit)
	require.True(t, strings.HasPrefix(feed, "BEGIN:VCALENDAR\r\n"))
	require.Equal(t, 4, strings.Count(feed, "BEGIN:VEVENT"), "three brews, and one event for the rest of the day")
	_, stderr, exit = hotday(t, "", "plan", oneDay, "--paper", "a5")
	require.Equal(t, 2, exit)
	require.Contains(t, stderr, `"a4","letter"`)
}

// needTool skips the test if an optional program is not installed.
func needTool(t *testing.T, name, purpose string) {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		missing := "NOT TESTED: " + purpose + "; install " + name
		if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
}

// terminal runs a command line with its output on a terminal, and returns that output.
func terminal(t *testing.T, env []string, command string) (shown string, exit int) {
	t.Helper()
	needTool(t, "script", "output on a terminal (Debian: bsdutils)")
	cmd := exec.CommandContext(t.Context(), "script", "-qec", binary+" "+command, "/dev/null")
	cmd.Env = append(os.Environ(), env...)
	out, err := cmd.Output()
	if _, exited := err.(*exec.ExitError); err != nil && !exited {
		t.Fatal(err)
	}
	return string(out), cmd.ProcessState.ExitCode()
}

func TestPDFIsNotPrintedOnATerminal(t *testing.T) {
	t.Parallel()
	shown, exit := terminal(t, nil, "plan "+oneDay+" --format pdf")
	assert.Equal(t, 2, exit)
	assert.Contains(t, shown, "-o FILE")
	assert.NotContains(t, shown, "%PDF")
}

func TestTerminalWithoutUnicodeGetsASCII(t *testing.T) {
	t.Parallel()
	plain, _ := terminal(t, []string{"LC_ALL=C"}, "plan "+oneDay)
	assert.Regexp(t, `\|#+`, plain, "bars of the chart")
	for _, r := range plain {
		if r > '~' {
			t.Fatalf("%q on a terminal limited to ASCII", r)
		}
	}
	shown, _ := terminal(t, []string{"LC_ALL=C.UTF-8"}, "plan "+oneDay)
	assert.Contains(t, shown, "█")
	assert.NotContains(t, shown, "\x1b", "no colour")
	piped, _, exit := hotday(t, "", "plan", oneDay)
	require.Zero(t, exit)
	assert.Equal(t, piped, strings.ReplaceAll(shown, "\r\n", "\n"), "piped output is the same, in any locale")
}

func TestTyposGetSuggestions(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{"plna": `did you mean \"plan\"|did you mean "plan"`, "calc chil": `did you mean \\"chill\\"`, "calc extration": `did you mean \\"extraction\\"`,
		"plan x.json --formt text": `did you mean "--format"`, "token nwe": `did you mean "new"`, "calc zzz": "there are batches, chill"} {
		_, stderr, exit := hotday(t, "", strings.Fields(typed)...)
		assert.Equal(t, 2, exit, typed)
		assert.Regexp(t, want, stderr, typed)
	}
	_, stderr, _ := hotday(t, "", "plan")
	assert.Contains(t, stderr, "See hotday plan --help.")
	_, stderr, _ = hotday(t, "", "calc", "glas")
	assert.NotContains(t, stderr, "keyboard")
	help, _, _ := hotday(t, "", "calc", "--help")
	assert.Regexp(t, `chill +ice for a target`, help)
}

// Each shell completes some lines through its own completion machinery.
func TestShellsCompleteTheCommands(t *testing.T) {
	t.Parallel()
	const bash = `set -u; source <(hotday completion bash)
for line in "$@"; do
  IFS=' ' read -r -a COMP_WORDS <<< "$line"; case "$line" in *' ') COMP_WORDS+=("");; esac
  COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); _hotday hotday "${COMP_WORDS[COMP_CWORD]}" ""
  printf '%s>' "$line"; printf ' %s' "${COMPREPLY[@]}"; echo
done`
	const zsh = `compdef() { :; }; _files() { described+=(FILES:); }; _describe() { print -rn -- " ${(j: :)${described[@]%%:*}}"; }
eval "$(hotday completion zsh)"
for line in "$@"; do words=("${(@s: :)line}"); CURRENT=$#words; print -rn -- "$line>"; _hotday; print; done`
	const fish = `hotday completion fish | source
for line in $argv; printf '%s>' $line; for c in (complete -C $line); printf ' %s' (string split -f1 \t -- $c); end; echo; end`
	for shell, script := range map[string]string{"bash": bash, "zsh": zsh, "fish": fish} {
		t.Run(shell, func(t *testing.T) {
			t.Parallel()
			needTool(t, shell, "completion in "+shell)
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, "weekend.json"), nil, 0o600))
			lines := []string{"hotday pl", "hotday calc ch", "hotday plan weekend.json --format ", "hotday token r", "hotday plan --fo", "hotday completion "}
			args := append([]string{"-c", script}, lines...)
			if shell != "fish" {
				args = append([]string{"-c", script, shell}, lines...)
			}
			cmd := exec.CommandContext(t.Context(), shell, args...)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "PATH="+filepath.Dir(binary)+":"+os.Getenv("PATH"), "HOME="+dir)
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, "%s", out)
			got := map[string]string{}
			for l := range strings.SplitSeq(strings.TrimSpace(string(out)), "\n") {
				line, next, _ := strings.Cut(l, "> ")
				got[line] = strings.TrimSpace(next)
			}
			for line, want := range map[string]string{"hotday pl": "plan", "hotday calc ch": "chill", "hotday plan weekend.json --format ": "text json sheets pdf xlsx ics",
				"hotday token r": "revoke", "hotday plan --fo": "--format", "hotday completion ": "bash zsh fish"} {
				assert.ElementsMatch(t, strings.Fields(want), strings.Fields(got[line]), "%s: %q of\n%s", shell, line, out)
			}
		})
	}
}
