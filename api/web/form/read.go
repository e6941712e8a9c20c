package form

import (
	"fmt"
	"net/url"
	"reflect"
	"strconv"
	"strings"

	"hotday/models"
)

// most bounds the rows of one list that are read: no list of the documents may be longer.
const most = 1000

// Read returns what was typed into the fields that Make made of a part, as JSON has it. What was left empty is left out. stored
// is the part as it is stored: fields that the page skips are taken from it. Numbers that cannot be read are in wrong, with what
// was typed in raw.
func (w Way) Read(whole reflect.Type, pointer string, typed url.Values, stored any) (doc any, raw map[string]string, wrong []models.FieldError) {
	r := reader{Way: w, typed: typed, raw: map[string]string{}}
	doc = r.value(typeOf(whole, pointer), "", pointer, strings.ReplaceAll(strings.Trim(pointer, "/"), "/", "."), stored)
	return doc, r.raw, r.wrong
}

type reader struct {
	Way
	typed url.Values
	raw   map[string]string
	wrong []models.FieldError
}

func (r *reader) value(t reflect.Type, tag, pointer, path string, stored any) any {
	kind, _ := r.kindOf(t, tag)
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	text := strings.TrimSpace(r.typed.Get(pointer))
	switch kind {
	case Group:
		row, _ := stored.(map[string]any)
		out := map[string]any{}
		for i := range t.NumField() {
			sf := t.Field(i)
			name := jsonName(sf)
			if r.Skip != nil && r.Skip(path+"."+name) {
				if v, ok := row[name]; ok {
					out[name] = v
				}
				continue
			}
			v := r.value(sf.Type, sf.Tag.Get("validate"), pointer+"/"+name, path+"."+name, row[name])
			if list, ok := v.([]any); v == nil || ok && len(list) == 0 && sf.Tag.Get("opt") != "false" {
				continue // left out
			}
			out[name] = v
		}
		return out
	case Rows:
		out := []any{}
		for i := range r.rows(pointer) {
			out = append(out, r.value(t.Elem(), "", fmt.Sprintf("%s/%d", pointer, i), path, nil))
		}
		return out
	case Many:
		out := []any{}
		for _, v := range r.typed[pointer] {
			if v != "" {
				out = append(out, v)
			}
		}
		return out
	case Yes:
		return text != ""
	case Number:
		if text == "" {
			return nil
		}
		return r.number(text, pointer, path)
	case Moment:
		if text == "" {
			return nil
		}
		return r.moment(text, pointer)
	}
	if text == "" {
		return nil
	}
	if x, err := strconv.ParseFloat(text, 64); err == nil && t.Kind() != reflect.String {
		return x // a choice among numbers
	}
	return text
}

func (r *reader) number(text, pointer, path string) any {
	s := r.scaleOf(path)
	if r.Keep != nil && r.Keep(path) {
		s = scale{by: 1}
	}
	x, err := s.read(text, r.Writer)
	if err != nil {
		accepted := "a number"
		if s.unit != "" {
			accepted += " in " + s.unit
		}
		r.raw[pointer] = text
		r.wrong = append(r.wrong, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf("%q cannot be read", text), Accepted: accepted})
		return nil
	}
	return x
}

// rows counts the rows that came for a list: its first place without any field ends it.
func (r *reader) rows(pointer string) int {
	last := -1
	for name := range r.typed {
		rest, ok := strings.CutPrefix(name, pointer+"/")
		if !ok {
			continue
		}
		place, _, _ := strings.Cut(rest, "/")
		if n, err := strconv.Atoi(place); err == nil && n < most {
			last = max(last, n)
		}
	}
	return last + 1
}

// usual is the value of a field that is left out, as its tag says; nil: none.
func usual(sf reflect.StructField) any {
	text, ok := sf.Tag.Lookup("default")
	if !ok {
		return nil
	}
	switch sf.Type.Kind() {
	case reflect.Bool:
		return text == "true"
	case reflect.String:
		return text
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil
	}
	return x
}
