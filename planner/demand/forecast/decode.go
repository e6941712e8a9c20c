package forecast

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"

	"hotday/models"
)

// decode reads a document row by row, which takes a third of the memory of reading it whole. A document that is not plainly right
// is read again as a whole, for the error that says where it is wrong.
func decode(body []byte) (Document, error) {
	if d, ok := decodeRows(body); ok {
		return d, nil
	}
	var d Document
	err := models.DecodeStrict(body, &d)
	return d, err
}

func decodeRows(body []byte) (d Document, ok bool) {
	dec := json.NewDecoder(bytes.NewReader(body))
	if !delim(dec, '{') {
		return d, false
	}
	seen := map[string]bool{}
	for dec.More() {
		key, err := dec.Token()
		name, isText := key.(string)
		if err != nil || !isText || seen[name] {
			return d, false
		}
		seen[name] = true
		switch name {
		case "history":
			d.History, ok = list[Past](dec)
		case "ahead":
			d.Ahead, ok = list[Ahead](dec)
		case "levels":
			ok = dec.Decode(&d.Levels) == nil && d.Levels != nil
		default:
			ok = false
		}
		if !ok {
			return d, false
		}
	}
	if !delim(dec, '}') || len(seen) != 3 {
		return d, false
	}
	_, err := dec.Token()
	return d, errors.Is(err, io.EOF)
}

func delim(dec *json.Decoder, want json.Delim) bool {
	t, err := dec.Token()
	return err == nil && t == want
}

func list[T any](dec *json.Decoder) ([]T, bool) {
	if !delim(dec, '[') {
		return nil, false
	}
	out := []T{}
	var raw json.RawMessage
	for dec.More() {
		var row T
		if dec.Decode(&raw) != nil || models.DecodeStrict(raw, &row) != nil {
			return nil, false
		}
		out = append(out, row)
	}
	return out, delim(dec, ']')
}
