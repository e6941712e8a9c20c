package api

import (
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/klauspost/compress/gzhttp"
)

const (
	// compressMinBytes is the smallest response to compress; a shorter one fits in one packet anyway.
	compressMinBytes = 1400
	// gzipTagSuffix ends the ETag of a compressed response: a different representation needs a different tag (RFC 9110, 8.8.3.3).
	gzipTagSuffix = "-gzip"
)

// compressible are the media types that compress well. text/event-stream is not one of them: compression would buffer the events.
var compressible = []string{"text/html", "text/css", "text/javascript", "application/javascript", "application/json", "application/problem+json",
	"image/svg+xml", "application/yaml", "text/calendar", "text/csv", "text/plain"}

// compressResponses gzips the responses of next for clients that accept it. Random padding hides the exact length, against attacks
// that guess a secret from the compressed size (BREACH).
func compressResponses(next http.Handler) http.Handler {
	wrap, err := gzhttp.NewWrapper(gzhttp.MinSize(compressMinBytes), gzhttp.EnableZstd(false), gzhttp.SuffixETag(gzipTagSuffix),
		gzhttp.RandomJitter(32, 0, false), gzhttp.ContentTypeFilter(isCompressible))
	if err != nil {
		panic(fmt.Sprintf("compression settings: %v", err)) // constants
	}
	pack := wrap(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if neverCompressed(r) {
			next.ServeHTTP(w, r)
			return
		}
		if tags := r.Header.Get("If-None-Match"); strings.Contains(tags, gzipTagSuffix+`"`) {
			r.Header.Set("If-None-Match", strings.ReplaceAll(tags, gzipTagSuffix+`"`, `"`))
		}
		pack.ServeHTTP(w, r)
	})
}

// neverCompressed reports requests whose responses are sent as they are: live streams; set-ups, whose ETag clients send back as
// If-Match; and HEAD.
func neverCompressed(r *http.Request) bool {
	path := r.URL.Path
	return r.Method == http.MethodHead || strings.HasSuffix(path, "/live") || strings.HasPrefix(path, "/v1/") && strings.Contains(path, "/setup")
}

func isCompressible(contentType string) bool {
	media, _, err := mime.ParseMediaType(contentType)
	return err == nil && slices.Contains(compressible, media)
}
