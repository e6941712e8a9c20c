package planner

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"

	"hotday/models"
)

// copyRequest returns a deep copy.
func copyRequest(r *models.PlanRequest) (*models.PlanRequest, error) {
	b, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("copying the request: %w", err)
	}
	var out models.PlanRequest
	if err := json.Unmarshal(b, &out); err != nil {
		return nil, fmt.Errorf("copying the request: %w", err)
	}
	out.Now = r.Now // with its zone
	return &out, nil
}

// patchBetween returns the JSON Merge Patch (RFC 7396) from before to after; as in the RFC, lists are replaced whole.
func patchBetween(before, after *models.PlanRequest) (json.RawMessage, error) {
	a, err := tree(before)
	if err != nil {
		return nil, err
	}
	b, err := tree(after)
	if err != nil {
		return nil, err
	}
	return json.Marshal(difference(a, b))
}

func tree(r *models.PlanRequest) (map[string]any, error) {
	b, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("writing the request: %w", err)
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	var out map[string]any
	if err := dec.Decode(&out); err != nil {
		return nil, fmt.Errorf("reading the request again: %w", err)
	}
	return out, nil
}

func difference(a, b map[string]any) map[string]any {
	out := map[string]any{}
	for k := range a {
		if _, ok := b[k]; !ok {
			out[k] = nil
		}
	}
	for k, v := range b {
		old, ok := a[k]
		if ok && reflect.DeepEqual(old, v) {
			continue
		}
		m, isObject := v.(map[string]any)
		o, wasObject := old.(map[string]any)
		if isObject && wasObject {
			out[k] = difference(o, m)
			continue
		}
		out[k] = v
	}
	return out
}
