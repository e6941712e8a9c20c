package deploy_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// The examples say how to start hotday: their flags exist, and what the proxy passes on fits what hotday listens to and accepts.
func TestProxyExamplesFitTheService(t *testing.T) {
	t.Parallel()
	help, _, code := hotday(t, "", "serve", "--help")
	require.Zero(t, code)
	for file, patterns := range map[string][]string{
		"nginx.conf": {`proxy_pass\s+http://127\.0\.0\.1:8080;`, `Host\s+\$host;`, `X-Forwarded-For\s+\$proxy_add_x_forwarded_for;`, `X-Forwarded-Proto\s+\$scheme;`,
			`X-Request-Id\s+\$request_id;`, `client_max_body_size 16m;`, `proxy_buffering\s+off;`, `location /v1/ { return 403; }`, `ssl_ciphers\s+ECDHE`},
		"Caddyfile": {`reverse_proxy 127\.0\.0\.1:8080`, `flush_interval -1`, `max_size 16MiB`, `(?s)http://shop.example \{\s+handle /v1/\* \{\s+respond 403`},
	} {
		text, err := os.ReadFile(filepath.Join("proxy", file))
		require.NoError(t, err)
		for _, p := range patterns {
			require.Regexp(t, p, string(text), file)
		}
		command := regexp.MustCompile(`hotday serve (.*)`).FindStringSubmatch(string(text))
		require.NotNil(t, command, file)
		require.Contains(t, command[1], "--listen 127.0.0.1:8080 --trusted-proxy 127.0.0.1", "the proxy's own address is trusted")
		for _, flag := range regexp.MustCompile(`--[a-z-]+`).FindAllString(command[1], -1) {
			require.Contains(t, help, flag, file)
		}
		require.NotContains(t, string(text), "\r")
	}
	require.Equal(t, 16<<20, models.MaxDocument, "the limits of bodies in the examples")
}

// nginx, where it is installed, accepts its example.
func TestNginxAcceptsItsExample(t *testing.T) {
	t.Parallel()
	nginx := needs(t, "nginx", "its example")
	text, err := os.ReadFile("proxy/nginx.conf")
	require.NoError(t, err)
	dir := t.TempDir()
	plain := regexp.MustCompile(`(?m)^\s*ssl_.*$`).ReplaceAllString(strings.ReplaceAll(string(text), "443 ssl", "8443"), "") // no certificate here
	plain = strings.ReplaceAll(plain, "/var/log/nginx", dir)
	config := filepath.Join(dir, "nginx.conf")
	require.NoError(t, os.WriteFile(config, []byte("pid "+dir+"/pid;\nerror_log stderr;\nevents {}\nhttp {\n"+plain+"\n}\n"), 0o600))
	out, err := exec.CommandContext(t.Context(), nginx, "-t", "-c", config).CombinedOutput()
	require.NoError(t, err, string(out))
}
