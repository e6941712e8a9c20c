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
	// compressFrom is the smallest answer worth packing, bytes: below it a packet is a packet.
	compressFrom = 1400
	// packedTag ends the entity tag of a packed answer: other bytes need another tag (RFC 9110, 8.8.3.3).
	packedTag = "-gzip"
)

// packed are the media types that shrink well. Live streams are not among them: packing would hold their events back.
var packed = []string{"text/html", "text/css", "text/javascript", "application/javascript", "application/json", "application/problem+json",
	"image/svg+xml", "application/yaml", "text/calendar", "text/csv", "text/plain"}

// compressed packs the answers of next for those who take gzip. A few random bytes hide what the length of a page with a secret
// would tell.
func compressed(next http.Handler) http.Handler {
	wrap, err := gzhttp.NewWrapper(gzhttp.MinSize(compressFrom), gzhttp.EnableZstd(false), gzhttp.SuffixETag(packedTag),
		gzhttp.RandomJitter(32, 0, false), gzhttp.ContentTypeFilter(packs))
	if err != nil {
		panic(fmt.Sprintf("the settings of compression: %v", err)) // they are constants
	}
	pack := wrap(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if leftPlain(r) {
			next.ServeHTTP(w, r)
			return
		}
		if tags := r.Header.Get("If-None-Match"); strings.Contains(tags, packedTag+`"`) {
			r.Header.Set("If-None-Match", strings.ReplaceAll(tags, packedTag+`"`, `"`))
		}
		pack.ServeHTTP(w, r)
	})
}

// leftPlain says what is never packed: live streams; set-ups, whose entity tag programs send back as If-Match and compare; and
// answers without a body.
func leftPlain(r *http.Request) bool {
	path := r.URL.Path
	return r.Method == http.MethodHead || strings.HasSuffix(path, "/live") || strings.HasPrefix(path, "/v1/") && strings.Contains(path, "/setup")
}

func packs(contentType string) bool {
	media, _, err := mime.ParseMediaType(contentType)
	return err == nil && slices.Contains(packed, media)
}
