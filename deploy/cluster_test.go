package deploy_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The manifests are read as the programs that take them do, by the Compose specification's schema and by Kubernetes's types: a field that
// does not exist, or a value of the wrong type, is refused.
func TestClusterManifestsFitTheirSchemas(t *testing.T) {
	t.Parallel()
	check := filepath.Join(t.TempDir(), "check")
	build := exec.CommandContext(t.Context(), "go", "build", "-o", check, ".")
	build.Dir = "cluster/check"
	if out, err := build.CombinedOutput(); err != nil {
		if !strings.Contains(string(out), "main.go:") { // the program is right, and its modules cannot be had
			without(t, "modules of deploy/cluster/check", string(out))
		}
		t.Fatal(string(out))
	}
	run := func(args ...string) (string, error) {
		out, err := exec.CommandContext(t.Context(), check, args...).CombinedOutput()
		return string(out), err
	}
	out, err := run("compose", "cluster/compose.yaml")
	require.NoError(t, err, out)
	require.Equal(t, "service db postgres:17\nservice hotday hotday\nservice proxy nginx:1.28\n", out)
	manifest := "cluster/kubernetes/hotday.yaml"
	out, err = run("kubernetes", manifest)
	require.NoError(t, err, out)
	require.Equal(t, "apps/v1 Deployment\nv1 Service\npolicy/v1 PodDisruptionBudget\nautoscaling/v2 HorizontalPodAutoscaler\n", out)

	for name, mend := range map[string][2]string{
		"unknown field": {"readinessProbe:", "readynessProbe:"},
		"wrong type":    {"containerPort: 8080", "containerPort: http"},
	} {
		text := file(t, manifest)
		require.Contains(t, text, mend[0])
		spoilt := filepath.Join(t.TempDir(), "spoilt.yaml")
		require.NoError(t, os.WriteFile(spoilt, []byte(strings.ReplaceAll(text, mend[0], mend[1])), 0o600))
		out, err := run("kubernetes", spoilt)
		require.Error(t, err, name)
		require.NotEmpty(t, out, name)
	}
}

// What the manifests tell the container's engine fits the service.
func TestClusterManifestsFitTheService(t *testing.T) {
	t.Parallel()
	for name, patterns := range map[string][]string{
		"compose.yaml":           {`replicas: 2`, `HOTDAY_GRACE: 25s`, `stop_grace_period: 30s`},
		"kubernetes/hotday.yaml": {`terminationGracePeriodSeconds: 40`, `value: 25s`, `path: /readyz`, `path: /healthz`, `minAvailable: 1`, `name: hotday_queue_oldest_due_seconds`},
	} {
		text := file(t, filepath.Join("cluster", name))
		for _, p := range patterns {
			require.Regexp(t, p, text, name)
		}
	}
	s := serve(t, nil, "")
	for _, probe := range regexp.MustCompile(`path: (/\S+?),`).FindAllStringSubmatch(file(t, "cluster/kubernetes/hotday.yaml"), -1) {
		status, _ := get(t, s.address+probe[1], "")
		require.Equal(t, 200, status, probe[1])
	}
	s.stop(os.Interrupt)
}

// nginx, where it is installed, accepts the cluster's configuration.
func TestNginxAcceptsTheClusters(t *testing.T) {
	t.Parallel()
	nginx := needs(t, "nginx", "the configuration of the cluster's proxy")
	dir := t.TempDir()
	plain := regexp.MustCompile(`(?m)^\s*ssl_.*$`).ReplaceAllString(file(t, "cluster/nginx.conf"), "") // no certificate here
	plain = strings.NewReplacer("443 ssl", "8443", "listen 80;", "listen 8080;", "/dev/stdout", dir+"/access.log", "hotday:8080 resolve", "127.0.0.1:8081").Replace(plain)
	config := filepath.Join(dir, "nginx.conf")
	require.NoError(t, os.WriteFile(config, []byte("pid "+dir+"/pid;\nerror_log stderr;\n"+plain), 0o600))
	out, err := exec.CommandContext(t.Context(), nginx, "-t", "-c", config).CombinedOutput()
	require.NoError(t, err, string(out))
}
