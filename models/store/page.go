package store

import (
	"encoding/base64"
	"encoding/json"

	"hotday/models"
)

// limitOf applies the rules of a Page.
func limitOf(p models.Page) int {
	switch {
	case p.Limit <= 0:
		return models.DefaultLimit
	case p.Limit > models.MaxLimit:
		return models.MaxLimit
	}
	return p.Limit
}

// A cursor is the key of the last row given out, with the name of its list, in URL-safe text.
func cursorOf(list string, key ...int64) *string {
	raw, err := json.Marshal(struct {
		L string  `json:"l"`
		K []int64 `json:"k"`
	}{list, key})
	if err != nil {
		panic(err) // text and integers always encode
	}
	c := base64.RawURLEncoding.EncodeToString(raw)
	return &c
}

// readCursor fills key; it reports false for no cursor, and CodeInvalid for one that this list did not give out.
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
		return false, models.Invalid("/cursor", "the next value of the page before", "this list gave out no such cursor")
	}
	for i := range key {
		*key[i] = c.K[i]
	}
	return true, nil
}
