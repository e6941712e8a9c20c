package store

import (
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
