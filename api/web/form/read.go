package form

import (
	"fmt"
	"net/url"
	"reflect"
	"strconv"
	"strings"

	"hotday/models"
)

// Rules of values that cannot be parsed.
const (
	RuleNumber   = "number" // its unit is the limit
	RuleDateTime = "moment"
)

// maxRows bounds the rows read per list; no list of the documents may be longer.
const maxRows = 1000

// Read converts submitted values of the fields from Build to the part as generic JSON. Empty fields are left out. Fields that the page
// skips are taken from stored. Values that cannot be parsed are in wrong, and as submitted in raw.
func (w Config) Read(whole reflect.Type, pointer string, typed url.Values, stored any) (doc any, raw map[string]string, wrong []models.FieldError) {
	r := reader{Config: w, typed: typed, raw: map[string]string{}}
	doc = r.value(typeOf(whole, pointer), "", pointer, strings.ReplaceAll(strings.Trim(pointer, "/"), "/", "."), stored)
	return doc, r.raw, r.wrong
}

type reader struct {
	Config
	typed url.Values
	raw   map[string]string
	wrong []models.FieldError
}

func (r *reader) value(t reflect.Type, tag, pointer, path string, stored any) any {
	kind, _ := r.kindOf(t, tag)
	optional := t.Kind() == reflect.Pointer
	if optional {
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
		if optional && onlyDefaults(t, out) {
			return nil
		}
		return out
	case Rows:
		out := []any{}
		for i := range r.rows(pointer) {
			out = append(out, r.value(t.Elem(), "", fmt.Sprintf("%s/%d", pointer, i), path, nil))
		}
		return out
	case Multi:
		out := []any{}
		for _, v := range r.typed[pointer] {
			if v != "" {
				out = append(out, v)
			}
		}
		return out
	case List:
		return r.list(t, text, pointer, path)
	case Checkbox:
		return text != ""
	case Number:
		if text == "" {
			return nil
		}
		return r.number(text, pointer, path)
	case DateTime:
		if text == "" {
			return nil
		}
		return r.dateTime(text, pointer)
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
	if r.Hide != nil && r.Hide(path) {
		s = scale{factor: 1}
	}
	x, err := s.read(text, r.Writer)
	if err != nil {
		accepted := "a number"
		if s.unit != "" {
			accepted += " in " + s.unit
		}
		r.raw[pointer] = text
		r.wrong = append(r.wrong, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf("%q cannot be read", text), Accepted: accepted, Rule: RuleNumber, Limit: s.unit})
		return nil
	}
	return x
}

// onlyDefaults reports whether a group holds nothing but the defaults of its fields: nobody filled it in.
func onlyDefaults(t reflect.Type, group map[string]any) bool {
	for i := range t.NumField() {
		sf := t.Field(i)
		if v, ok := group[jsonName(sf)]; ok && v != false && !reflect.DeepEqual(v, defaultValue(sf)) {
			return false
		}
	}
	return true
}

// rows returns the number of rows submitted for a list: the largest index plus one.
func (r *reader) rows(pointer string) int {
	last := -1
	for name := range r.typed {
		rest, ok := strings.CutPrefix(name, pointer+"/")
		if !ok {
			continue
		}
		place, _, _ := strings.Cut(rest, "/")
		if n, err := strconv.Atoi(place); err == nil && n < maxRows {
			last = max(last, n)
		}
	}
	return last + 1
}

// defaultValue returns the default in a field's tag, nil if it has none.
func defaultValue(sf reflect.StructField) any {
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
