// Package deploy_test runs the built program: its commands, flags, environment, signals and exit codes.
package deploy_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models/store/pgtest"
)

var binary string

func TestMain(m *testing.M) {
	os.Exit(build(m))
}

func build(m *testing.M) int {
	dir, err := os.MkdirTemp("", "hotday-program-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	binary = filepath.Join(dir, "hotday")
	if out, err := exec.Command("go", "build", "-o", binary, "hotday").CombinedOutput(); err != nil {
		panic(string(out))
	}
	defer pgtest.Stop()
	return m.Run()
}

// hotday runs a command until it exits.
func hotday(t *testing.T, stdin string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), binary, args...)
	var out, errs bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &out, &errs
	err := cmd.Run()
	if _, exited := err.(*exec.ExitError); err != nil && !exited {
		t.Fatal(err)
	}
	return out.String(), errs.String(), cmd.ProcessState.ExitCode()
}

// hangTimeout ends a program that hangs, so that the test can report its output.
const hangTimeout = 3 * time.Minute

// running is a program that runs until it is stopped.
type running struct {
	t       *testing.T
	cmd     *exec.Cmd
	scanner *bufio.Scanner
	lines   []string // read so far
}

// start starts a command and reads the lines of one of its output streams.
func start(t *testing.T, stream func(*exec.Cmd) (io.ReadCloser, error), env []string, args ...string) *running {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), hangTimeout)
	t.Cleanup(cancel)
	cmd := exec.CommandContext(ctx, binary, args...)
	cmd.Env = append(os.Environ(), env...)
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = 20 * time.Second
	pipe, err := stream(cmd)
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	return &running{t: t, cmd: cmd, scanner: bufio.NewScanner(pipe)}
}

// waitFor reads lines up to the first that matches and returns its last group.
func (r *running) waitFor(pattern string) string {
	r.t.Helper()
	re := regexp.MustCompile(pattern)
	for r.scanner.Scan() {
		r.lines = append(r.lines, r.scanner.Text())
		if m := re.FindStringSubmatch(r.scanner.Text()); m != nil {
			return m[len(m)-1]
		}
	}
	require.NoError(r.t, r.scanner.Err())
	r.t.Fatalf("the program exited without printing %q; it printed:\n%s", pattern, strings.Join(r.lines, "\n"))
	return ""
}

// stop sends a signal and expects a clean exit.
func (r *running) stop(sig os.Signal) {
	r.t.Helper()
	require.NoError(r.t, r.cmd.Process.Signal(sig))
	for r.scanner.Scan() { // until it closes the stream
		r.lines = append(r.lines, r.scanner.Text())
	}
	require.NoError(r.t, r.cmd.Wait(), strings.Join(r.lines, "\n"))
}

func get(t *testing.T, url, token string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	require.NoError(t, err)
	if token != "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(body)
}

func TestServeAnswersAndStopsCleanly(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "hotday.db")
	r := start(t, (*exec.Cmd).StderrPipe, []string{"HOTDAY_DB=" + db, "HOTDAY_LISTEN=127.0.0.1:0"}, "serve")
	r.waitFor("hotday (token new) --db")
	address := r.waitFor(`listening on (http://127\.0\.0\.1:\d+)`)
	code, body := get(t, address+"/healthz", "")
	require.Equal(t, http.StatusOK, code, body)
	code, _ = get(t, address+"/v1/sites/nowhere/plans/latest", "")
	require.Equal(t, http.StatusUnauthorized, code)

	secret, _, exit := hotday(t, "", "token", "new", "--db", db, "--scope", "manage", "--name", "me")
	require.Zero(t, exit)
	require.Regexp(t, `^hotday_\S+\n$`, secret, "only the secret is printed")
	code, body = get(t, address+"/v1/sites/nowhere/plans/latest", strings.TrimSpace(secret))
	require.Equal(t, http.StatusNotFound, code, body)

	list, _, _ := hotday(t, "", "token", "list", "--db", db)
	require.Contains(t, list, "manage")
	require.NotContains(t, list, strings.TrimSpace(secret))
	_, _, exit = hotday(t, "", "token", "revoke", strings.Fields(list)[0], "--db", db)
	require.Zero(t, exit)
	code, _ = get(t, address+"/v1/sites/nowhere/plans/latest", strings.TrimSpace(secret))
	require.Equal(t, http.StatusUnauthorized, code, "a revoked key no longer works")
	r.stop(syscall.SIGTERM)
}

func TestPersonResetLetsSomebodyWhoIsLockedOutIn(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "hotday.db")
	r := start(t, (*exec.Cmd).StderrPipe, []string{"HOTDAY_DB=" + db, "HOTDAY_LISTEN=127.0.0.1:0"}, "serve")
	address := r.waitFor(`listening on (http://127\.0\.0\.1:\d+)`)
	secret, _, exit := hotday(t, "", "token", "new", "--db", db, "--scope", "manage")
	require.Zero(t, exit)
	send := func(path, token string, body map[string]any) (int, http.Header, string) {
		text, err := json.Marshal(body)
		require.NoError(t, err)
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, address+path, bytes.NewReader(text))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/json")
		if token != "" {
			req.Header.Set("Authorization", "Bearer "+strings.TrimSpace(token))
		}
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		defer res.Body.Close()
		answer, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		return res.StatusCode, res.Header, string(answer)
	}
	const old, fresh = "seven red kettles whistle", "eight blue kettles whistle"
	signIn := func(password string) (int, http.Header, string) {
		return send("/v1/session", "", map[string]any{"sign_in": "ada", "password": password})
	}
	codeOf := regexp.MustCompile(`/welcome\?code=(\S+?)(?:"|\s|$)`)
	status, _, body := send("/v1/people", secret, map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"manage"}, "site": nil})
	require.Equal(t, http.StatusCreated, status, body)
	status, _, body = send("/v1/welcome", "", map[string]any{"code": codeOf.FindStringSubmatch(body)[1], "password": old})
	require.Equal(t, http.StatusOK, status, body)
	status, header, _ := signIn(old)
	require.Equal(t, http.StatusCreated, status)

	_, stderr, exit := hotday(t, "", "person", "reset", "adda", "--db", db)
	require.Equal(t, 1, exit)
	require.Contains(t, stderr, "there are: ada")
	out, _, exit := hotday(t, "", "person", "reset", "Ada", "--db", db, "--public-url", "https://shop.example.com/")
	require.Zero(t, exit)
	require.Contains(t, out, "https://shop.example.com/welcome?code=")
	code := codeOf.FindStringSubmatch(out)[1]

	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address+"/v1/session", nil)
	require.NoError(t, err)
	req.Header.Set("Cookie", strings.Split(header.Get("Set-Cookie"), ";")[0])
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusUnauthorized, res.StatusCode, "the sessions have ended")
	status, _, _ = signIn(old)
	require.Equal(t, http.StatusUnauthorized, status, "the old password is gone")
	status, _, body = send("/v1/welcome", "", map[string]any{"code": code, "password": fresh})
	require.Equal(t, http.StatusOK, status, body)
	status, _, _ = send("/v1/welcome", "", map[string]any{"code": code, "password": fresh})
	require.Equal(t, http.StatusNotFound, status, "the link works once")
	status, _, _ = signIn(fresh)
	require.Equal(t, http.StatusCreated, status)
	_, body = get(t, address+"/v1/audit", strings.TrimSpace(secret))
	require.Contains(t, body, `"action":"person_reset","subject":"Ada"`)
	r.stop(syscall.SIGTERM)
}

func TestServeBehindAProxyLogsTheClientAsJSONAndSurvivesAHangUp(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "hotday.db")
	r := start(t, (*exec.Cmd).StderrPipe, []string{"HOTDAY_TRUSTED_PROXY=127.0.0.1,10.0.0.0/8"}, "serve", "--db", db, "--listen", "127.0.0.1:0", "--log-format", "json")
	address := r.waitFor(`"msg":"listening on (http://127\.0\.0\.1:\d+)"`)
	for range 2 {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address+"/openapi.css", nil)
		require.NoError(t, err)
		req.Header.Set("X-Forwarded-For", "198.51.100.1, 203.0.113.9, 10.0.0.7")
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		require.Equal(t, http.StatusOK, res.StatusCode)
		r.waitFor(`"address":"(203\.0\.113\.9)"`)
		require.NoError(t, r.cmd.Process.Signal(syscall.SIGHUP))
	}
	r.stop(syscall.SIGTERM)

	for _, x := range [][]string{{"--tls-cert", "shop.crt"}, {"--trusted-proxy", "0.0.0.0/0"}, {"--trusted-proxy", "proxy"}, {"--workers", "0"}, {"--workers", "many"}} {
		_, stderr, code := hotday(t, "", append([]string{"serve", "--db", db}, x...)...)
		require.NotZero(t, code)
		require.Contains(t, stderr, x[0])
	}
}

func TestDemoIsInTheMiddleOfItsSaturdayAndLeavesNothingBehind(t *testing.T) {
	t.Parallel()
	tmp := t.TempDir()
	r := start(t, (*exec.Cmd).StdoutPipe, []string{"TMPDIR=" + tmp}, "demo", "--port", "0", "--speed", "1", "--print")
	address := r.waitFor(`^(http://\S+)/ `)
	saturday := r.waitFor(`planned 2 days from (\S+):`)
	key := r.waitFor(`access key (hotday_\S+)$`)
	link := r.waitFor(`^Sign in once with (\S+)$`)
	output := strings.Join(r.lines, "\n")
	for _, word := range []string{"PREP SHEET", "Saturday", "House flash", "invented", "There it is 09:30 on Saturday"} {
		require.Contains(t, output, word)
	}
	require.Regexp(t, "^"+address, link)

	var marked int
	sheets := regexp.MustCompile(`"state":"made"`)
	require.Eventually(t, func() bool { // the staff's marks of the morning
		code, body := get(t, address+"/v1/sites/ladder-lane/prep-sheets/"+saturday, key)
		marked = len(sheets.FindAllString(body, -1))
		return code == http.StatusOK && marked > 2
	}, time.Minute, 50*time.Millisecond)
	require.Eventually(t, func() bool { // found by the watch of the shop
		code, body := get(t, address+"/v1/sites/ladder-lane/warnings", key)
		return code == http.StatusOK && strings.Contains(body, "_short")
	}, 2*time.Minute, 100*time.Millisecond, "there is a shortage to show")

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	browser := &http.Client{Jar: jar}
	for _, page := range []string{"Weekend", "sign-in"} { // the link works once
		res, err := (&http.Client{Jar: browser.Jar}).Get(link)
		require.NoError(t, err)
		body, err := io.ReadAll(res.Body)
		require.NoError(t, errors.Join(err, res.Body.Close()))
		require.Contains(t, string(body), page)
		if browser.Jar, err = cookiejar.New(nil); err != nil {
			t.Fatal(err)
		}
	}

	left, err := os.ReadDir(tmp)
	require.NoError(t, err)
	require.NotEmpty(t, left, "the demo uses TMPDIR")
	r.stop(os.Interrupt)
	left, err = os.ReadDir(tmp)
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestDemoStoppedDuringSetUpLeavesNothingBehind(t *testing.T) {
	t.Parallel()
	tmp := t.TempDir()
	r := start(t, (*exec.Cmd).StdoutPipe, []string{"TMPDIR=" + tmp}, "demo", "--port", "0")
	r.waitFor("sales: ")
	r.stop(syscall.SIGTERM)
	left, err := os.ReadDir(tmp)
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestPlanReadsAFileOrStandardInput(t *testing.T) {
	t.Parallel()
	request := filepath.Join("..", "testdata", "requests", "one-day.json")
	doc, err := os.ReadFile(request)
	require.NoError(t, err)
	text, _, exit := hotday(t, "", "plan", request)
	require.Zero(t, exit)
	require.NotContains(t, text, "\x1b", "no colour when piped")
	again, _, exit := hotday(t, string(doc), "plan", "-", "--format", "text")
	require.Zero(t, exit)
	require.Equal(t, text, again)

	out := filepath.Join(t.TempDir(), "plan.json")
	stdout, _, exit := hotday(t, "", "plan", request, "--format", "json", "-o", out)
	require.Zero(t, exit)
	require.Empty(t, stdout)
	written, err := os.ReadFile(out)
	require.NoError(t, err)
	var plan struct{ Digest string }
	require.NoError(t, json.Unmarshal(written, &plan))
	require.NotEmpty(t, plan.Digest)
	files, err := os.ReadDir(filepath.Dir(out))
	require.NoError(t, err)
	require.Len(t, files, 1, "no temporary file is left")
}

func TestBadInputExitsWith2AndAProblemDocument(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		stdin   string
		args    []string
		problem string
		pointer string
	}{
		"unknown field":       {`{"sight":{}}`, []string{"plan", "-"}, "malformed", "/sight"},
		"no such file":        {"", []string{"plan", "no-such-file.json"}, "malformed", ""},
		"value out of range":  {`{"dose_g":20,"brew_water_g":20}`, []string{"calc", "extraction"}, "invalid", "/brew_water_g"},
		"unknown calculation": {`{}`, []string{"calc", "horoscope"}, "not_found", ""},
		"flag out of range":   {"", []string{"demo", "--days", "0"}, "invalid", "/days"},
		"no such time":        {"", []string{"demo", "--at", "noon"}, "invalid", "/at"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			stdout, stderr, exit := hotday(t, c.stdin, c.args...)
			require.Equal(t, 2, exit)
			require.Empty(t, stdout)
			var p struct {
				Type   string
				Errors []struct{ Pointer, Detail string }
			}
			require.NoError(t, json.Unmarshal([]byte(stderr), &p), stderr)
			require.Equal(t, "/problems/"+c.problem, p.Type)
			if c.pointer != "" {
				require.NotEmpty(t, p.Errors)
				require.Equal(t, c.pointer, p.Errors[0].Pointer)
			}
		})
	}
}

func TestUsage(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"frobnicate"}, {"plan"}, {"serve"}, {"token", "new", "--db", "x.db"}, {"plan", "-", "--format", "odt"}} {
		_, stderr, exit := hotday(t, "", args...)
		require.Equal(t, 2, exit, args)
		require.Contains(t, stderr, "hotday: ", args)
	}
	help, _, exit := hotday(t, "", "--help")
	require.Zero(t, exit)
	for _, command := range []string{"demo", "serve", "plan", "calc", "replay", "token new", "token list", "token revoke", "person reset", "completion", "version"} {
		require.Contains(t, help, "\n  "+command)
		own, _, exit := hotday(t, "", append(strings.Fields(command), "--help")...)
		require.Zero(t, exit)
		require.Regexp(t, `(?s)Examples?:.*hotday `+command, own, "%s --help shows an example", command)
	}
	require.NotContains(t, help, "\n  complete ", "hidden commands are not listed")
	version, _, exit := hotday(t, "", "version")
	require.Zero(t, exit)
	require.Regexp(t, `^hotday \S+\ncommit ([0-9a-f]{40} of \S+Z(, modified)?|unknown)\ngo     go1\.\d+\S* \w+/\w+\nsqlite 3\.\d+\.\d+ \(\S+ v\S+\)\nschema \d+\n$`, version)
	out, _, exit := hotday(t, `{"dose_g":20,"brew_water_g":180}`, "calc", "extraction")
	require.Zero(t, exit)
	var calc struct {
		BeverageG float64 `json:"beverage_g"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &calc))
	require.InDelta(t, 144.1, calc.BeverageG, 3)
	out, _, exit = hotday(t, `{"dose_g":20,"brew_water_g":180}`, "calc", "extraction", "--language", "de")
	require.Zero(t, exit)
	require.Contains(t, out, "Heißer Kaffee")
	_, stderr, exit := hotday(t, `{}`, "calc", "extraction", "--language", "plain German")
	require.Equal(t, 2, exit)
	require.Contains(t, stderr, "--language: ")
}

func TestPortInUseIsReported(t *testing.T) {
	t.Parallel()
	r := start(t, (*exec.Cmd).StderrPipe, nil, "serve", "--db", filepath.Join(t.TempDir(), "a.db"), "--listen", "127.0.0.1:0")
	address := r.waitFor(`listening on http://(127\.0\.0\.1:\d+)`)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, binary, "serve", "--db", filepath.Join(t.TempDir(), "b.db"), "--listen", address)
	out, _ := cmd.CombinedOutput()
	require.Equal(t, 1, cmd.ProcessState.ExitCode())
	require.Contains(t, string(out), "address already in use")
	r.stop(syscall.SIGTERM)
}

func TestBackupCheckAndRestore(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	db, file, restored := filepath.Join(dir, "hotday.db"), filepath.Join(dir, "hotday.tar.zst"), filepath.Join(dir, "restored.db")
	r := start(t, (*exec.Cmd).StderrPipe, nil, "serve", "--db", db, "--listen", "127.0.0.1:0")
	r.waitFor("listening on")
	secret, _, exit := hotday(t, "", "token", "new", "--db", db, "--scope", "manage")
	require.Zero(t, exit)
	out, errs, exit := hotday(t, "", "backup", "--db", db, file)
	require.Zero(t, exit, errs)
	require.Contains(t, out, "schema version")
	r.stop(os.Interrupt)

	_, errs, exit = hotday(t, "", "restore", "--db", db, file)
	require.Equal(t, 1, exit)
	require.Contains(t, errs, "exists already and is not overwritten")
	_, errs, exit = hotday(t, "", "restore", "--db", restored, file)
	require.Zero(t, exit, errs)
	out, errs, exit = hotday(t, "", "check", "--db", restored)
	require.Zero(t, exit, out+errs)
	require.Contains(t, out, "integrity and foreign keys hold")

	r = start(t, (*exec.Cmd).StderrPipe, nil, "serve", "--db", restored, "--listen", "127.0.0.1:0", "--backup-to", dir)
	address := r.waitFor(`listening on (http://127\.0\.0\.1:\d+)`)
	code, body := get(t, address+"/v1/sites", strings.TrimSpace(secret))
	require.Equal(t, http.StatusOK, code, body)
	made := r.waitFor(`database backed up.* file=(\S+)`)
	require.FileExists(t, made)
	r.stop(os.Interrupt)

	_, errs, exit = hotday(t, "", "serve", "--db", restored, "--backup-to", filepath.Join(dir, "none"))
	require.Equal(t, 1, exit)
	require.Contains(t, errs, "is not a directory")
}
