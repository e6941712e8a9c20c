package store

import (
	"context"
	"encoding/base64"
	"encoding/json"

	"gorm.io/gorm"

	"hotday/models"
)

// limitOf applies the default and the maximum to a page's limit.
func limitOf(p models.Page) int {
	switch {
	case p.Limit <= 0:
		return models.DefaultLimit
	case p.Limit > models.MaxLimit:
		return models.MaxLimit
	}
	return p.Limit
}

// cursorOf encodes the name of the list and the key of the last row returned as URL-safe text.
func cursorOf(list string, key ...int64) *string {
	raw, err := json.Marshal(struct {
		L string  `json:"l"`
		K []int64 `json:"k"`
	}{list, key})
	if err != nil {
		panic(err) // cannot fail for text and integers
	}
	c := base64.RawURLEncoding.EncodeToString(raw)
	return &c
}

// readCursor decodes a cursor into key. It returns false for an empty cursor and CodeInvalid for one that is not of this list.
func readCursor(cursor, list string, key ...*int64) (bool, error) {
	if cursor == "" {
		return false, nil
	}
	var c struct {
		L string  `json:"l"`
		K []int64 `json:"k"`
	}
	raw, err := base64.RawURLEncoding.DecodeString(cursor)
	if err == nil {
		err = json.Unmarshal(raw, &c)
	}
	if err != nil || c.L != list || len(c.K) != len(key) {
		return false, models.Invalid("/cursor", "the next value of the previous page", "this is not a cursor of this list")
	}
	for i := range key {
		*key[i] = c.K[i]
	}
	return true, nil
}

// newestFirst reads a page of the rows of a query, by created_at and id, newest first. noun returns what a row becomes, and its created_at.
func newestFirst[R, T any](ctx context.Context, list string, query gorm.ChainInterface[R], p models.Page, noun func(R) (x T, createdAt int64)) (out models.Rows[T], err error) {
	out.Rows = []T{}
	var at, skip int64 // skip is the number of rows at that instant on earlier pages
	hasCursor, err := readCursor(p.Cursor, list, &at, &skip)
	if err != nil {
		return out, err
	}
	if hasCursor {
		query = query.Where("created_at <= ?", at)
	}
	limit := limitOf(p)
	found, err := query.Order("created_at DESC, id DESC").Limit(limit + 1).Offset(int(skip)).Find(ctx)
	if err != nil {
		return out, err
	}
	var last, same int64 // how many rows there are at the last instant of the page
	for _, r := range found[:min(len(found), limit)] {
		x, createdAt := noun(r)
		out.Rows = append(out.Rows, x)
		if createdAt != last {
			last, same = createdAt, 0
		}
		same++
	}
	if len(found) <= limit {
		return out, nil
	}
	if last == at {
		same += skip
	}
	out.Next = cursorOf(list, last, same)
	return out, nil
}
