package deploy_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func file(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	return string(data)
}

// needs skips a test for want of an optional program, or fails if they are required.
func needs(t *testing.T, program, why string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err == nil {
		return path
	}
	without(t, program, why)
	return ""
}

// without skips a test for want of something, or fails it where nothing may be skipped.
func without(t *testing.T, what, why string) {
	t.Helper()
	if os.Getenv("HOTDAY_REQUIRE_TOOLS") != "" {
		t.Fatalf("%s not found: %s", what, why)
	}
	t.Skipf("NOT TESTED for want of %s: %s", what, why)
}

func TestExampleConfigurationsNameFlagsThatExist(t *testing.T) {
	t.Parallel()
	help, _, exit := hotday(t, "", "serve", "--help")
	require.Zero(t, exit)
	for _, name := range []string{"hotday.env", "Containerfile", "cluster/compose.yaml", "cluster/kubernetes/hotday.yaml"} {
		found := regexp.MustCompile(`\bHOTDAY_[A-Z_]+\b`).FindAllString(file(t, name), -1)
		require.NotEmpty(t, found, name)
		for _, variable := range found {
			flag := "--" + strings.ReplaceAll(strings.ToLower(strings.TrimPrefix(variable, "HOTDAY_")), "_", "-")
			require.Contains(t, help, flag, "%s in %s", variable, name)
			require.Contains(t, help, "$"+variable, name)
		}
	}
	// Each value is one that serve takes: with all examples switched on, it starts and stops.
	env := []string{}
	for _, m := range regexp.MustCompile(`(?m)^#?(HOTDAY_[A-Z_]+)=(.*)$`).FindAllStringSubmatch(file(t, "hotday.env"), -1) {
		switch m[1] {
		case "HOTDAY_DB", "HOTDAY_LISTEN", "HOTDAY_METRICS":
		case "HOTDAY_SMTP_PASSWORD_FILE":
			password := filepath.Join(t.TempDir(), "smtp-password")
			require.NoError(t, os.WriteFile(password, []byte("secret\n"), 0o600))
			env = append(env, m[1]+"="+password)
		case "HOTDAY_BACKUP_TO":
			env = append(env, m[1]+"="+t.TempDir())
		default:
			env = append(env, m[1]+"="+m[2])
		}
	}
	require.Greater(t, len(env), 4)
	s := serve(t, env, "", "--metrics", "127.0.0.1:0")
	s.stop(os.Interrupt)
}

func TestGuidesNameCommandsAndFilesThatExist(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"install.md", "metrics.md", "cluster.md", "runbook.md", "scale.md"} {
		text := file(t, name)
		for _, m := range regexp.MustCompile(`(?:hotday|/hotday) (serve|token [a-z]+|secrets [a-z]+|version|backup|restore|check)\b`).FindAllStringSubmatch(text, -1) {
			words := strings.Fields(m[1])
			_, _, exit := hotday(t, "", append(words[:1], "--help")...)
			require.Zero(t, exit, "hotday %s in %s", m[1], name)
		}
		for _, m := range regexp.MustCompile(`deploy/[\w.]+\w|monitoring/\w+\.\w+`).FindAllString(text, -1) {
			path := m
			if rest, ok := strings.CutPrefix(m, "deploy/"); ok {
				path = rest
			}
			_, err := os.Stat(path)
			require.NoError(t, err, "%s in %s", m, name)
		}
	}
}

// TestTheUnitIsHardened asks systemd to judge the unit: 0 is the safest, 10 the least safe.
func TestTheUnitIsHardened(t *testing.T) {
	t.Parallel()
	judge := needs(t, "systemd-analyze", "the hardening of the unit") //nolint:misspell // a program's name
	out, err := exec.Command(judge, "security", "--offline=yes", "--no-pager", "hotday.service").CombinedOutput()
	require.NoError(t, err, "%s", out)
	score := regexp.MustCompile(`Overall exposure level for hotday.service: ([\d.]+)`).FindSubmatch(out)
	require.NotNil(t, score, "%s", out)
	exposure, err := strconv.ParseFloat(string(score[1]), 64)
	require.NoError(t, err)
	require.LessOrEqual(t, exposure, 1.5, "%s", out)
	t.Logf("exposure %.1f", exposure)

	unit := file(t, "hotday.service")
	verify := filepath.Join(t.TempDir(), "hotday.service")
	require.NoError(t, os.WriteFile(verify, []byte(strings.ReplaceAll(unit, "/usr/local/bin/hotday", binary)), 0o600))
	out, err = exec.Command(judge, "verify", verify).CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.NotContains(t, string(out), "hotday.service:", "no complaint about the unit itself")

	help, _, _ := hotday(t, "", "serve", "--help")
	grace := regexp.MustCompile(`--grace=(\d+)s`).FindStringSubmatch(help)
	require.NotNil(t, grace, help)
	stop := regexp.MustCompile(`(?m)^TimeoutStopSec=(\d+)$`).FindStringSubmatch(unit)
	require.NotNil(t, stop)
	require.Greater(t, number(t, stop[1]), number(t, grace[1]), "systemd waits longer than the grace period")
	image := regexp.MustCompile(`HOTDAY_GRACE=(\d+)s`).FindStringSubmatch(file(t, "Containerfile"))
	require.NotNil(t, image)
	require.Less(t, number(t, image[1]), 10, "container engines wait 10 s")
}

func number(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

// TestReleasesAreReproducible builds a release twice, from two clones and into two directories, and looks at the program. With
// HOTDAY_EMPTY_CACHE=1 each build compiles everything itself, which takes several minutes.
func TestReleasesAreReproducible(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program twice")
	}
	t.Parallel()
	bash := needs(t, "bash", "the release build")
	git := needs(t, "git", "the release build")
	commit, err := exec.Command(git, "rev-parse", "HEAD").Output()
	if err != nil {
		without(t, "a repository", "the release build")
	}
	tool := filepath.Join(strings.TrimSpace(goEnv(t, "GOPATH")), "bin", "cyclonedx-gomod")
	if _, err := os.Stat(tool); err != nil {
		without(t, tool, "the release build")
	}
	platform := "linux/" + runtime.GOARCH
	var built [2]map[string]string
	for i := range built {
		dir := filepath.Join(t.TempDir(), strings.Repeat("elsewhere/", i), "dist")
		cmd := exec.Command(bash, "release.sh", dir, platform)
		cmd.Env = append(os.Environ(), "GOFLAGS=", "TZ=Asia/Tokyo")
		if os.Getenv("HOTDAY_EMPTY_CACHE") != "" {
			cmd.Env = append(cmd.Env, "GOCACHE="+t.TempDir())
		}
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", out)
		files, err := os.ReadDir(dir)
		require.NoError(t, err)
		built[i] = map[string]string{}
		for _, f := range files {
			sum := sha256.Sum256([]byte(file(t, filepath.Join(dir, f.Name()))))
			built[i][f.Name()] = hex.EncodeToString(sum[:])
		}
		if i == 1 {
			checkRelease(t, dir, built[i], strings.TrimSpace(string(commit)))
		}
	}
	require.Equal(t, built[0], built[1], "the same commit gives the same bytes")
}

func goEnv(t *testing.T, name string) string {
	t.Helper()
	out, err := exec.Command("go", "env", name).Output()
	require.NoError(t, err)
	return string(out)
}

func checkRelease(t *testing.T, dir string, sums map[string]string, commit string) {
	t.Helper()
	require.Len(t, sums, 3, "the program, its bill of materials, the checksums")
	listed := file(t, filepath.Join(dir, "SHA256SUMS"))
	program := ""
	for name, sum := range sums {
		switch {
		case name == "SHA256SUMS":
			continue
		case !strings.HasSuffix(name, ".json"):
			program = filepath.Join(dir, name)
		}
		require.Contains(t, listed, sum+"  "+name+"\n")
	}
	out, err := exec.Command(program, "version").CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Contains(t, string(out), "commit "+commit+" of ")
	require.NotContains(t, string(out), "modified")
	require.Contains(t, string(out), "modernc.org/sqlite v")

	// A file with no interpreter and no libraries runs in an empty container.
	info, err := exec.Command("go", "version", "-m", program).Output()
	require.NoError(t, err)
	require.Contains(t, string(info), "CGO_ENABLED=0")
	if file, err := exec.LookPath("file"); err == nil {
		out, err := exec.Command(file, program).Output()
		require.NoError(t, err)
		require.Contains(t, string(out), "statically linked")
	}

	var bill struct {
		BOMFormat  string `json:"bomFormat"`
		Components []struct{ Name, Version, PURL string }
	}
	require.NoError(t, json.Unmarshal([]byte(file(t, program+".cdx.json")), &bill))
	require.Equal(t, "CycloneDX", bill.BOMFormat)
	inBill := map[string]string{}
	for _, c := range bill.Components {
		inBill[c.Name] = c.Version
	}
	for _, m := range regexp.MustCompile(`(?m)^\tdep\t(\S+)\t(\S+)\t`).FindAllStringSubmatch(string(info), -1) {
		require.Equal(t, m[2], inBill[m[1]], "%s is in the bill", m[1])
	}
	checkImage(t, program)
}

// checkImage builds the container image of the program and looks at what it holds; for want of a builder, it reads the recipe alone.
func checkImage(t *testing.T, program string) {
	t.Helper()
	recipe := file(t, "Containerfile")
	require.Contains(t, recipe, "\nFROM scratch\n")
	buildah, err := exec.LookPath("buildah")
	if err != nil {
		t.Log("the image was not built for want of buildah")
		return
	}
	storage := t.TempDir()
	env := append(os.Environ(), "BUILDAH_ISOLATION=chroot", "STORAGE_DRIVER=vfs", "XDG_DATA_HOME="+storage, "XDG_RUNTIME_DIR="+storage,
		"CONTAINERS_STORAGE_CONF="+filepath.Join(storage, "storage.conf"))
	require.NoError(t, os.WriteFile(filepath.Join(storage, "storage.conf"), []byte("[storage]\ndriver = \"vfs\"\nrunroot = \""+storage+"/run\"\ngraphroot = \""+storage+"/images\"\n"), 0o600))
	cmd := exec.Command("bash", "image.sh", program, "hotday-test")
	cmd.Env = env
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	inspect := exec.Command(buildah, "inspect", "--type", "image", "hotday-test")
	inspect.Env = env
	doc, err := inspect.Output()
	require.NoError(t, err)
	var image struct {
		OCIv1 struct {
			Config struct {
				User       string
				Entrypoint []string
				Cmd        []string
				Env        []string
			} `json:"config"`
		}
	}
	require.NoError(t, json.Unmarshal(doc, &image))
	require.Equal(t, "65532:65532", image.OCIv1.Config.User)
	require.Equal(t, []string{"/hotday"}, image.OCIv1.Config.Entrypoint)
	require.Equal(t, []string{"serve"}, image.OCIv1.Config.Cmd)
	require.Contains(t, image.OCIv1.Config.Env, "HOTDAY_DB=/data/hotday.db")
	t.Log("the image was built")
}
