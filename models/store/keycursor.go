package store

import (
	"encoding/base64"
	"encoding/json"

	"hotday/models"
)

// textCursor is what a cursor of a list ordered by texts holds.
type textCursor struct {
	List string   `json:"l"`
	Key  []string `json:"t"`
}

// keyCursor encodes the name of a list and the key of the last row returned as URL-safe text.
func keyCursor(list string, key ...string) *string {
	raw, err := json.Marshal(textCursor{list, key})
	if err != nil {
		panic(err) // cannot fail for texts
	}
	c := base64.RawURLEncoding.EncodeToString(raw)
	return &c
}

// readKeyCursor decodes a cursor with n texts: nil for an empty one, CodeInvalid for one that is not of this list.
func readKeyCursor(cursor, list string, n int) ([]string, error) {
	if cursor == "" {
		return nil, nil
	}
	var c textCursor
	raw, err := base64.RawURLEncoding.DecodeString(cursor)
	if err == nil {
		err = json.Unmarshal(raw, &c)
	}
	if err != nil || c.List != list || len(c.Key) != n {
		return nil, models.Invalid("/cursor", "the next value of the previous page", "this is not a cursor of this list")
	}
	return c.Key, nil
}
