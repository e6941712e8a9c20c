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

// patched returns v changed by a patch, decoded strictly into a new T.
func patched[T any](v T, patch json.RawMessage) (out T, err error) {
	doc, err := generic(v)
	if err != nil {
		return out, err
	}
	var change any
	if err := decodeNumbers(patch, &change); err != nil {
		return out, models.Errorf(models.CodeMalformed, "the change is no JSON: %v", err)
	}
	b, err := json.Marshal(mergePatch(doc, change))
	if err != nil {
		return out, fmt.Errorf("write the changed document: %w", err)
	}
	return out, models.DecodeStrict(b, &out)
}

// generic turns v into maps and lists, numbers kept as they are written.
func generic(v any) (doc any, err error) {
	b, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("write a document: %w", err)
	}
	return doc, decodeNumbers(b, &doc)
}

func decodeNumbers(b []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	return d.Decode(v)
}
