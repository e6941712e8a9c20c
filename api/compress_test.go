package api_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// gzipCall requests gzip explicitly, which keeps the client from decompressing the response.
func gzipCall(path string, header map[string]string) call {
	h := map[string]string{"Accept-Encoding": "gzip"}
	for k, v := range header {
		h[k] = v
	}
	return call{method: http.MethodGet, path: path, header: h}
}

func gunzip(t *testing.T, b []byte) string {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(b))
	require.NoError(t, err)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	return string(text)
}

func TestLargeResponsesAreCompressed(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for _, path := range []string{"/openapi", "/openapi.yaml"} {
		plain := b.raw(call{method: http.MethodGet, path: path, header: map[string]string{"Accept-Encoding": "identity"}})
		require.Equal(t, 200, plain.status)
		require.Empty(t, plain.header.Get("Content-Encoding"))
		packed := b.raw(gzipCall(path, nil))
		require.Equal(t, "gzip", packed.header.Get("Content-Encoding"), path)
		require.Contains(t, packed.header.Values("Vary"), "Accept-Encoding")
		require.Less(t, len(packed.body), len(plain.body)/2, path)
		require.Equal(t, string(plain.body), gunzip(t, packed.body), path)
	}
	small := b.raw(gzipCall("/healthz", nil))
	require.Empty(t, small.header.Get("Content-Encoding"), "short responses are not compressed")
	require.True(t, strings.HasPrefix(string(small.body), "{"))
	setup := b.raw(gzipCall("/v1/sites/quay/setup", nil))
	require.Empty(t, setup.header.Get("Content-Encoding"), "its ETag is for If-Match")
}

func TestCompressedResponsesAreRevalidated(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	page := b.raw(gzipCall("/sign-in", nil))
	sheet := regexp.MustCompile(`/static/\w+/hotday\.css`)
	address := sheet.FindString(string(page.body))
	if page.header.Get("Content-Encoding") == "gzip" {
		address = sheet.FindString(gunzip(t, page.body))
	}
	require.NotEmpty(t, address)
	packed := b.raw(gzipCall(address, nil))
	require.Equal(t, "gzip", packed.header.Get("Content-Encoding"))
	plain := b.raw(call{method: http.MethodGet, path: address, header: map[string]string{"Accept-Encoding": "identity"}})
	require.NotEqual(t, plain.header.Get("ETag"), packed.header.Get("ETag"), "each encoding has its own tag")
	for _, tag := range []string{plain.header.Get("ETag"), packed.header.Get("ETag")} {
		again := b.raw(gzipCall(address, map[string]string{"If-None-Match": tag}))
		require.Equal(t, http.StatusNotModified, again.status, tag)
		require.Empty(t, again.body)
	}
	require.Equal(t, 200, b.raw(gzipCall(address, map[string]string{"If-None-Match": `"another"`})).status)
}

func TestLiveStreamsAreNotCompressed(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	req, err := http.NewRequest(http.MethodGet, b.base+"/v1/sites/quay/live", nil)
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+b.token)
	req.Header.Set("Accept-Encoding", "gzip")
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close()
	require.Empty(t, resp.Header.Get("Content-Encoding"))
	first := make([]byte, 5)
	_, err = io.ReadFull(resp.Body, first)
	require.NoError(t, err)
	require.Equal(t, "retry", string(first))
}
