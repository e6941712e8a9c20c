package api

import (
	"math"
	"time"

	"github.com/tidwall/gjson"

	"hotday/models"
)

// decodeSales decodes a post of counts. Posts arrive every few minutes from every till, so the common case is parsed in one pass
// without reflection. Anything unusual (an unknown, missing or duplicate field, a wrong type) goes to models.DecodeStrict, which
// reports the errors.
func decodeSales(data []byte) (models.SalesPost, error) {
	if post, ok := parseSalesFast(data); ok {
		return post, nil
	}
	var post models.SalesPost
	err := models.DecodeStrict(data, &post)
	return post, err
}

func parseSalesFast(data []byte) (post models.SalesPost, ok bool) {
	if !gjson.ValidBytes(data) {
		return post, false
	}
	doc := gjson.ParseBytes(data)
	if !doc.IsObject() {
		return post, false
	}
	fields, ok := 0, true
	doc.ForEach(func(key, value gjson.Result) bool {
		fields++
		switch {
		case key.Str == "source" && value.Type == gjson.String:
			post.Source = value.Str
		case key.Str == "counts" && value.IsArray():
			post.Counts, ok = parseCountsFast(value)
		default:
			ok = false
		}
		return ok
	})
	return post, ok && fields == 2 && post.Counts != nil
}

// bytesPerRow is a typical row's length, to allocate the list once.
const bytesPerRow = 100

func parseCountsFast(list gjson.Result) (counts []models.SalesCount, ok bool) {
	counts, ok = make([]models.SalesCount, 0, len(list.Raw)/bytesPerRow+1), true
	var start, end timeCache
	list.ForEach(func(_, row gjson.Result) bool {
		var c models.SalesCount
		if c, ok = parseCountFast(row, &start, &end); ok {
			counts = append(counts, c)
		}
		return ok
	})
	return counts, ok
}

// Fields seen in a count.
const (
	seenItem = 1 << iota
	seenStart
	seenEnd
	seenCount
	seenAll = seenItem | seenStart | seenEnd | seenCount
)

func parseCountFast(row gjson.Result, start, end *timeCache) (c models.SalesCount, ok bool) {
	if !row.IsObject() {
		return c, false
	}
	seen := 0
	see := func(field int, fits bool) { ok = fits && seen&field == 0; seen |= field }
	row.ForEach(func(key, value gjson.Result) bool {
		ok = false
		switch key.Str {
		case "item":
			c.Item = value.Str
			see(seenItem, value.Type == gjson.String)
		case "count":
			c.Count = value.Num
			see(seenCount, value.Type == gjson.Number && !math.IsInf(value.Num, 0))
		case "window_start":
			see(seenStart, start.read(value, &c.WindowStart))
		case "window_end":
			see(seenEnd, end.read(value, &c.WindowEnd))
		}
		return ok
	})
	return c, ok && seen == seenAll
}

// timeCache caches the last parsed time, since consecutive rows usually share their window.
type timeCache struct {
	text string
	time time.Time
}

func (l *timeCache) read(value gjson.Result, t *time.Time) bool {
	if value.Type != gjson.String {
		return false
	}
	if value.Str != l.text || l.text == "" {
		l.text = ""
		if l.time.UnmarshalText([]byte(value.Str)) != nil {
			return false
		}
		l.text = value.Str
	}
	*t = l.time
	return true
}
