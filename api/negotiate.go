package api

import (
	"mime"
	"strconv"
	"strings"

	"hotday/planner/paper"
)

const (
	asJSON = "application/json"
	asHTML = "text/html"
	asPDF  = "application/pdf"
	asICS  = "text/calendar"
)

// formats are the values of the query parameter "as", for links, which cannot send an Accept header.
var formats = map[string]string{"json": asJSON, "html": asHTML, "pdf": asPDF, "xlsx": xlsxType, "csv": csvType}

// format picks the response's media type by the parameter "as", else by the Accept header. It returns a 406 error if none of those
// offered is acceptable.
func (q *query) format(offered ...string) (media string, err error) {
	if media, err = q.negotiated(offered); media != csvType && q.c.Query("table") != "" {
		q.invalid("table", "it together with as=csv", "only a CSV file is a single table")
	}
	return media, err
}

func (q *query) negotiated(offered []string) (media string, err error) {
	q.c.Writer.Header().Add("Vary", "Accept")
	possible, names := "", ""
	for _, o := range offered {
		for name, f := range formats {
			if f == o {
				possible, names = possible+", "+o, names+", "+name
			}
		}
	}
	if raw := q.c.Query("as"); raw != "" {
		for _, o := range offered {
			if formats[raw] == o {
				return o, nil
			}
		}
		q.malformed("as", "one of "+names[2:], raw+" is not an available format")
		return "", nil
	}
	media, ok := negotiate(q.c.Request.Header.Values("Accept"), offered...)
	if !ok {
		return "", notAcceptable(possible[2:])
	}
	return media, nil
}

// paper reads the paper size, "a4" or "letter"; the default depends on Accept-Language.
func (q *query) paper() paper.Size {
	raw := q.c.Query("paper")
	if raw == "" {
		q.c.Writer.Header().Add("Vary", "Accept-Language")
		return paper.SizeFor(q.c.GetHeader("Accept-Language"))
	}
	size, ok := paper.SizeNamed(raw)
	if !ok {
		q.malformed("paper", "a4 or letter", raw+" is not a paper size")
	}
	return size
}

// negotiate returns the offered media type with the highest quality in the Accept header, the first one on a tie or without a header
// (RFC 9110, 12.5.1). ok is false if none is acceptable.
func negotiate(accept []string, offered ...string) (media string, ok bool) {
	wanted := strings.Join(accept, ",")
	if strings.TrimSpace(wanted) == "" {
		return offered[0], true
	}
	best := 0.0
	for _, o := range offered {
		if q := qualityFor(o, wanted); q > best {
			media, best = o, q
		}
	}
	return media, best > 0
}

// qualityFor returns the quality of the most specific media range that matches a media type, 0 if none does.
func qualityFor(offered, accept string) float64 {
	quality, best := 0.0, -1
	kind, _, _ := strings.Cut(offered, "/")
	for _, part := range strings.Split(accept, ",") {
		media, attrs, err := mime.ParseMediaType(part)
		if err != nil {
			continue
		}
		specific := -1
		switch media {
		case offered:
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
