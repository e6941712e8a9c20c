package models

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// DecodeStrict reads one JSON document into the struct that v points to. Every unknown field, wrong type, missing field and
// number that is not finite is named by its JSON pointer in one CodeMalformed *Error, so that a person can mend all of them
// at once. Field tags: `default:"2.1"` may be left out or null and then has that value; pointers, slices, maps and fields
// tagged `opt:"true"` may be left out or null and are then empty; every other field must be there.
func DecodeStrict(data []byte, v any) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var doc any
	if err := dec.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			return Errorf(CodeMalformed, "the document is empty")
		}
		return Errorf(CodeMalformed, "the document is not JSON: %s", strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Errorf(CodeMalformed, "there is something after the end of the document")
	}
	d := &decoder{}
	d.set(reflect.ValueOf(v).Elem(), doc, "")
	if len(d.errs) > 0 {
		return &Error{Code: CodeMalformed, Message: "the document cannot be read", Fields: d.errs}
	}
	return nil
}

// maxFieldErrors bounds one answer: a document that is wrong throughout is said to be so without a megabyte of errors.
const maxFieldErrors = 50

type decoder struct{ errs []FieldError }

func (d *decoder) fail(pointer, accepted, format string, args ...any) {
	if len(d.errs) < maxFieldErrors {
		d.errs = append(d.errs, FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	}
}

func (d *decoder) set(v reflect.Value, doc any, at string) {
	if v.Kind() == reflect.Pointer {
		if doc == nil {
			v.SetZero()
			return
		}
		v.Set(reflect.New(v.Type().Elem()))
		d.set(v.Elem(), doc, at)
		return
	}
	if v.Type() == reflect.TypeFor[json.RawMessage]() {
		raw, _ := json.Marshal(doc)
		v.SetBytes(raw)
		return
	}
	if u, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		s, isText := doc.(string)
		if !isText {
			d.fail(at, acceptedText(v), "found %s", jsonKind(doc))
			return
		}
		if err := u.UnmarshalText([]byte(s)); err != nil {
			d.fail(at, acceptedText(v), "%q cannot be used here", short(s))
		}
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		d.setStruct(v, doc, at)
	case reflect.Slice:
		list, ok := doc.([]any)
		if !ok && doc != nil {
			d.fail(at, "a list", "found %s", jsonKind(doc))
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), len(list), len(list)))
		for i, item := range list {
			d.set(v.Index(i), item, at+"/"+strconv.Itoa(i))
		}
	case reflect.Map:
		obj, ok := doc.(map[string]any)
		if !ok && doc != nil {
			d.fail(at, "an object", "found %s", jsonKind(doc))
			return
		}
		v.Set(reflect.MakeMapWithSize(v.Type(), len(obj)))
		for _, k := range sortedKeys(obj) {
			e := reflect.New(v.Type().Elem()).Elem()
			d.set(e, obj[k], at+"/"+escape(k))
			v.SetMapIndex(reflect.ValueOf(k).Convert(v.Type().Key()), e)
		}
	case reflect.String:
		s, ok := doc.(string)
		if !ok {
			d.fail(at, "text", "found %s", jsonKind(doc))
			return
		}
		v.SetString(s)
	case reflect.Bool:
		b, ok := doc.(bool)
		if !ok {
			d.fail(at, "true or false", "found %s", jsonKind(doc))
			return
		}
		v.SetBool(b)
	case reflect.Float64:
		n, ok := doc.(json.Number)
		f, err := strconv.ParseFloat(string(n), 64)
		if !ok || err != nil || math.IsInf(f, 0) || math.IsNaN(f) {
			d.fail(at, "a number", "found %s", jsonKind(doc))
			return
		}
		v.SetFloat(f)
	case reflect.Int, reflect.Int64:
		n, ok := doc.(json.Number)
		f, err := strconv.ParseFloat(string(n), 64)
		if !ok || err != nil || f != math.Trunc(f) || math.Abs(f) > 1<<53 {
			d.fail(at, "a whole number", "found %s", jsonKind(doc))
			return
		}
		v.SetInt(int64(f))
	case reflect.Interface:
		v.Set(reflect.ValueOf(&doc).Elem())
	default:
		d.fail(at, "", "a field of kind %s cannot be read", v.Kind())
	}
}

func (d *decoder) setStruct(v reflect.Value, doc any, at string) {
	obj, ok := doc.(map[string]any)
	if !ok {
		d.fail(at, "an object", "found %s", jsonKind(doc))
		return
	}
	fields := fieldsOf(v.Type())
	for _, k := range sortedKeys(obj) {
		if _, known := fields.byName[k]; !known {
			d.fail(at+"/"+escape(k), "one of "+strings.Join(fields.names, ", "), "unknown field")
		}
	}
	for _, name := range fields.names {
		f := fields.byName[name]
		item, given := obj[name]
		if given && item != nil {
			d.set(v.FieldByIndex(f.index), item, at+"/"+name)
			continue
		}
		switch {
		case f.hasDefault:
			d.set(v.FieldByIndex(f.index), f.preset, at+"/"+name)
		case f.optional && f.kind == reflect.Struct:
			d.set(v.FieldByIndex(f.index), map[string]any{}, at+"/"+name) // its own defaults hold
		case f.optional:
			v.FieldByIndex(f.index).SetZero()
		case given:
			d.fail(at+"/"+name, f.accepted, "null is not allowed here")
		default:
			d.fail(at+"/"+name, f.accepted, "this field is missing")
		}
	}
}

type field struct {
	index      []int
	hasDefault bool
	optional   bool
	kind       reflect.Kind
	preset     any
	accepted   string
}

type structFields struct {
	names  []string
	byName map[string]field
}

var fieldCache sync.Map // reflect.Type → *structFields

func fieldsOf(t reflect.Type) *structFields {
	if c, ok := fieldCache.Load(t); ok {
		return c.(*structFields)
	}
	fs := &structFields{byName: map[string]field{}}
	for _, sf := range reflect.VisibleFields(t) {
		name, _, _ := strings.Cut(sf.Tag.Get("json"), ",")
		if sf.Anonymous || name == "" || name == "-" {
			continue
		}
		f := field{index: sf.Index, accepted: acceptedText(reflect.New(sf.Type).Elem())}
		if text, ok := sf.Tag.Lookup("default"); ok {
			f.hasDefault = true
			switch sf.Type.Kind() {
			case reflect.String:
				f.preset = text
			case reflect.Bool:
				f.preset = text == "true"
			default:
				f.preset = json.Number(text)
			}
		}
		kind := sf.Type.Kind()
		f.kind = kind
		f.optional = sf.Tag.Get("opt") == "true" || (sf.Tag.Get("opt") != "false" &&
			(kind == reflect.Pointer || kind == reflect.Slice || kind == reflect.Map || kind == reflect.Interface))
		fs.names = append(fs.names, name)
		fs.byName[name] = f
	}
	c, _ := fieldCache.LoadOrStore(t, fs)
	return c.(*structFields)
}

// acceptor is met by text types that can say what they accept.
type acceptor interface{ accepts() string }

func acceptedText(v reflect.Value) string {
	if v.CanAddr() {
		if a, ok := v.Addr().Interface().(acceptor); ok {
			return a.accepts()
		}
		if _, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
			return "a time as in RFC 3339, with its offset: 2026-07-11T07:00:00+02:00"
		}
	}
	switch v.Kind() {
	case reflect.Float64:
		return "a number"
	case reflect.Int, reflect.Int64:
		return "a whole number"
	case reflect.String:
		return "text"
	case reflect.Bool:
		return "true or false"
	case reflect.Slice:
		return "a list"
	case reflect.Struct, reflect.Map:
		return "an object"
	}
	return ""
}

func jsonKind(doc any) string {
	switch x := doc.(type) {
	case nil:
		return "null"
	case bool:
		return "true or false"
	case json.Number:
		return "the number " + short(string(x))
	case string:
		return "the text " + strconv.Quote(short(x))
	case []any:
		return "a list"
	}
	return "an object"
}

func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// escape makes one reference token of a JSON pointer (RFC 6901) of a field name.
func escape(name string) string {
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(short(name))
}

func sortedKeys(m map[string]any) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
