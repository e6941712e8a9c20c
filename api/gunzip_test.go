package api_test

import (
	"bytes"
	"compress/gzip"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func packed(t *testing.T, text string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write([]byte(text))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

func TestBodiesMayBePacked(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const counts = `{"source":"till-1","counts":[{"item":"ICED-M","window_start":"2026-07-10T12:00:00Z","window_end":"2026-07-10T12:15:00Z","count":7}]}`
	send := func(body any, encoding string) answer {
		return b.raw(call{method: "POST", path: "/v1/sites/quay/sales-counts", body: body, header: map[string]string{"Content-Encoding": encoding, "Idempotency-Key": "k"}})
	}
	var result models.SalesResult
	send(packed(t, counts), "gzip").is(200).into(&result)
	require.Equal(t, 1, result.New)
	again := send(counts, "identity").is(200) // the content is the same, so the key gives the same answer
	require.JSONEq(t, `{"new":1,"replaced":0,"unchanged":0,"unmapped":1}`, string(again.body))

	for _, encoding := range []string{"br", "zstd", "deflate", "gzip, gzip"} {
		a := send(counts, encoding).is(415)
		require.Contains(t, a.problem().Detail, "gzip")
		require.Equal(t, "gzip", a.header.Get("Accept-Encoding"))
	}
	for _, body := range [][]byte{[]byte(counts), packed(t, counts)[:20], append(packed(t, counts), "rest"...), bytes.Replace(packed(t, counts), []byte{0x1f, 0x8b}, []byte{0x1f, 0x8c}, 1)} {
		send(body, "gzip").is(400)
	}
	// Limits count unpacked bytes: a small body that unpacks to more than 2 MiB is too large.
	bomb := packed(t, strings.Replace(counts, `"ICED-M"`, `"`+strings.Repeat("x", 3<<20)+`"`, 1))
	require.Less(t, len(bomb), 32<<10)
	require.Equal(t, "/problems/too_large", send(bomb, "gzip").is(413).problem().Type)
}
