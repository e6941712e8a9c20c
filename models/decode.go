package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// DecodeStrict reads one JSON document into v. Unknown fields, wrong types, numbers out of range and anything after the
// document are a CodeMalformed *Error that names the field where the decoder knows it.
func DecodeStrict(data []byte, v any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(v); err != nil {
		return malformed(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Errorf(CodeMalformed, "there is something after the end of the document")
	}
	return nil
}

func malformed(err error) error {
	var own *Error
	if errors.As(err, &own) {
		return own
	}
	var typ *json.UnmarshalTypeError
	if errors.As(err, &typ) {
		p := ""
		if typ.Field != "" {
			p = "/" + strings.ReplaceAll(typ.Field, ".", "/")
		}
		return &Error{Code: CodeMalformed, Message: "the document has a value of the wrong type",
			Fields: []FieldError{{Pointer: p, Detail: "found a JSON " + typ.Value, Accepted: jsonKind(typ.Type.Kind().String())}}}
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		name = strings.Trim(name, `"`)
		return &Error{Code: CodeMalformed, Message: "the document has a field that is not known here",
			Fields: []FieldError{{Pointer: "/" + name, Detail: "unknown field", Accepted: "only the fields that the contract names; see /openapi.yaml"}}}
	}
	if errors.Is(err, io.EOF) {
		return Errorf(CodeMalformed, "the document is empty")
	}
	return Errorf(CodeMalformed, "the document is not JSON: %s", strings.TrimPrefix(err.Error(), "json: "))
}

func jsonKind(goKind string) string {
	switch {
	case strings.HasPrefix(goKind, "int"), strings.HasPrefix(goKind, "uint"):
		return "a whole number"
	case strings.HasPrefix(goKind, "float"):
		return "a number"
	case goKind == "slice", goKind == "array":
		return "a list"
	case goKind == "struct", goKind == "map", goKind == "ptr":
		return "an object"
	case goKind == "bool":
		return "true or false"
	}
	return fmt.Sprintf("a %s", goKind)
}
