package models

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// WithFields returns the set-up with the fields changed, each from its From to its To. Items of a list are found by their code. A field that
// does not exist or no longer has the value From is CodeConflict, a set-up that is not valid afterwards CodeInvalid.
func (s Setup) WithFields(fields []LearntField) (Setup, error) {
	var doc any
	b, err := json.Marshal(s)
	if err == nil {
		err = json.Unmarshal(b, &doc)
	}
	if err != nil {
		return s, fmt.Errorf("read the set-up as a document: %w", err)
	}
	for _, f := range fields {
		if err := f.apply(doc); err != nil {
			return s, err
		}
	}
	if b, err = json.Marshal(doc); err != nil {
		return s, fmt.Errorf("write the set-up as a document: %w", err)
	}
	var out Setup
	if err := DecodeStrict(b, &out); err != nil {
		return s, err
	}
	return out, out.Validate()
}

func (f *LearntField) apply(doc any) error {
	tokens := strings.Split(strings.TrimPrefix(f.Pointer, "/"), "/")
	gone := Errorf(CodeConflict, "the set-up has no %s any more", f.Pointer)
	for i, t := range tokens {
		t = strings.NewReplacer("~1", "/", "~0", "~").Replace(t)
		switch at := doc.(type) {
		case []any:
			if doc = itemOf(at, t); doc == nil {
				return gone
			}
		case map[string]any:
			if i < len(tokens)-1 {
				doc = at[t]
				continue
			}
			var to any
			if err := json.Unmarshal(f.To, &to); err != nil {
				return fmt.Errorf("read the new value of %s: %w", f.Pointer, err)
			}
			if !sameJSON(at[t], f.From) {
				return Errorf(CodeConflict, "%s has changed since", f.Pointer)
			}
			at[t] = to
			return nil
		default:
			return gone
		}
	}
	return gone
}

// itemOf is the item of a list with a code, or at an index.
func itemOf(list []any, token string) any {
	for _, x := range list {
		if m, ok := x.(map[string]any); ok && m["code"] == token {
			return m
		}
	}
	if i, err := strconv.Atoi(token); err == nil && i >= 0 && i < len(list) {
		return list[i]
	}
	return nil
}

func sameJSON(x any, raw json.RawMessage) bool {
	var y any
	if json.Unmarshal(raw, &y) != nil {
		return false
	}
	if list, ok := y.([]any); ok && len(list) == 0 {
		y = nil
	}
	if list, ok := x.([]any); ok && len(list) == 0 {
		x = nil
	}
	a, errA := json.Marshal(x)
	b, errB := json.Marshal(y)
	return errA == nil && errB == nil && bytes.Equal(a, b)
}

// Undone returns the fields of a change the other way round.
func Undone(fields []LearntField) []LearntField {
	out := make([]LearntField, len(fields))
	for i, f := range fields {
		out[i] = LearntField{Pointer: f.Pointer, From: f.To, To: f.From}
	}
	return out
}
