package api

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// tag is the ETag of a form of something stored: a hash of all that its bytes are made from, this version of the program included, so
// that it is known before they are.
func (s *Server) tag(form string, made ...string) string {
	h := sha256.New()
	for _, part := range append([]string{s.Version, form}, made...) {
		fmt.Fprintf(h, "%d:%s", len(part), part)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}
