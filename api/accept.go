package api

import (
	"mime"
	"strconv"
	"strings"
)

// preferred picks the form that the Accept header wants most, the first of those offered where it wants several alike or says
// nothing (RFC 9110, 12.5.1); ok is false where it wants none of them.
func preferred(accept []string, offered ...string) (form string, ok bool) {
	wanted := strings.Join(accept, ",")
	if strings.TrimSpace(wanted) == "" {
		return offered[0], true
	}
	best := 0.0
	for _, o := range offered {
		if q := qualityOf(o, wanted); q > best {
			form, best = o, q
		}
	}
	return form, best > 0
}

// qualityOf returns the weight of the most specific range that covers a media type, 0 where none does.
func qualityOf(form, accept string) float64 {
	quality, best := 0.0, -1
	kind, _, _ := strings.Cut(form, "/")
	for _, part := range strings.Split(accept, ",") {
		media, attrs, err := mime.ParseMediaType(part)
		if err != nil {
			continue
		}
		specific := -1
		switch media {
		case form:
			specific = 2
		case kind + "/*":
			specific = 1
		case "*/*":
			specific = 0
		}
		if specific <= best {
			continue
		}
		q := 1.0
		if raw, given := attrs["q"]; given {
			if q, err = strconv.ParseFloat(raw, 64); err != nil || q < 0 || q > 1 {
				continue
			}
		}
		quality, best = q, specific
	}
	return quality
}
