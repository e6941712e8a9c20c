package web

import (
	"bytes"
	"encoding/json"
	"fmt"

	"hotday/models"
)

// mergePatch applies a JSON Merge Patch (RFC 7396) to a document.
func mergePatch(doc, patch any) any {
	p, ok := patch.(map[string]any)
	if !ok {
		return patch
	}
	d, ok := doc.(map[string]any)
	if !ok {
		d = map[string]any{}
	}
	for k, v := range p {
		if v == nil {
			delete(d, k)
			continue
		}
		d[k] = mergePatch(d[k], v)
	}
	return d
}

// applyPatch applies a merge patch to v and decodes the result strictly into a new T.
func applyPatch[T any](v T, patch json.RawMessage) (out T, err error) {
	doc, err := toGeneric(v)
	if err != nil {
		return out, err
	}
	var change any
	if err := decodeNumbers(patch, &change); err != nil {
		return out, models.Errorf(models.CodeMalformed, "the change is not JSON: %v", err)
	}
	b, err := json.Marshal(mergePatch(doc, change))
	if err != nil {
		return out, fmt.Errorf("encode the changed document: %w", err)
	}
	return out, models.DecodeStrict(b, &out)
}

// toGeneric converts v to maps and slices with json.Number values.
func toGeneric(v any) (doc any, err error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("encode a document: %w", err)
	}
	return doc, decodeNumbers(b, &doc)
}

func decodeNumbers(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	return d.Decode(v)
}
