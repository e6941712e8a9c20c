package store

import (
	"context"
	"encoding/base64"
	"encoding/json"

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

// newestFirst reads a page of a table's rows with a value in one column, by created_at and id, newest first.
func newestFirst[T any](ctx context.Context, s *Store, list, columns, table, column, value string, p models.Page, createdAt func(T) int64) (out []T, next *string, err error) {
	var at, skip int64 // skip is the number of rows at that instant on earlier pages
	hasCursor, err := readCursor(p.Cursor, list, &at, &skip)
	if err != nil {
		return nil, nil, err
	}
	where, args := column+" = ?", []any{value}
	if hasCursor {
		where, args = where+" AND created_at <= ?", append(args, at)
	}
	limit := limitOf(p)
	out, err = rows[T](ctx, s, "SELECT "+columns+" FROM "+table+" WHERE "+where+" ORDER BY created_at DESC, id DESC LIMIT ? OFFSET ?", append(args, limit+1, skip)...)
	if err != nil || len(out) <= limit {
		return out, nil, err
	}
	out = out[:limit]
	last, same := createdAt(out[limit-1]), int64(0)
	for _, r := range out {
		if createdAt(r) == last {
			same++
		}
	}
	if last == at {
		same += skip
	}
	return out, cursorOf(list, last, same), nil
}
