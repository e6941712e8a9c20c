package api

import (
	"math"
	"time"

	"github.com/tidwall/gjson"

	"hotday/models"
)

// decodeSales reads a post of counts. Posts come every few minutes from every till, so the plain case is read in one pass
// without reflection; anything unusual in it (an unknown, missing or doubled field, a wrong type) is read again by
// models.DecodeStrict, which says what is wrong and where.
func decodeSales(data []byte) (models.SalesPost, error) {
	if post, ok := plainSales(data); ok {
		return post, nil
	}
	var post models.SalesPost
	err := models.DecodeStrict(data, &post)
	return post, err
}

func plainSales(data []byte) (post models.SalesPost, ok bool) {
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
			post.Counts, ok = plainCounts(value)
		default:
			ok = false
		}
		return ok
	})
	return post, ok && fields == 2 && post.Counts != nil
}

// rowBytes is about the length of a row, so that the list is made at once.
const rowBytes = 100

func plainCounts(list gjson.Result) (counts []models.SalesCount, ok bool) {
	counts, ok = make([]models.SalesCount, 0, len(list.Raw)/rowBytes+1), true
	var start, end lastTime
	list.ForEach(func(_, row gjson.Result) bool {
		var c models.SalesCount
		if c, ok = plainCount(row, &start, &end); ok {
			counts = append(counts, c)
		}
		return ok
	})
	return counts, ok
}

// Fields of a count that have been seen.
const (
	sawItem = 1 << iota
	sawStart
	sawEnd
	sawCount
	sawAll = sawItem | sawStart | sawEnd | sawCount
)

func plainCount(row gjson.Result, start, end *lastTime) (c models.SalesCount, ok bool) {
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
			see(sawItem, value.Type == gjson.String)
		case "count":
			c.Count = value.Num
			see(sawCount, value.Type == gjson.Number && !math.IsInf(value.Num, 0))
		case "window_start":
			see(sawStart, start.read(value, &c.WindowStart))
		case "window_end":
			see(sawEnd, end.read(value, &c.WindowEnd))
		}
		return ok
	})
	return c, ok && seen == sawAll
}

// lastTime remembers the time of the row before: the items of one window stand together, and share it.
type lastTime struct {
	text string
	time time.Time
}

func (l *lastTime) read(value gjson.Result, t *time.Time) bool {
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
