package form

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"hotday/models"
)

// Build returns the fields of a part of a document: doc is the part as generic JSON, of the type at pointer in whole. raw has submitted
// values that could not be parsed, by pointer; wrong are errors to show at their fields.
func (w Config) Build(whole reflect.Type, pointer string, doc any, raw map[string]string, wrong []models.FieldError) Field {
	m := builder{w, raw, wrong}
	t := typeOf(whole, pointer)
	return m.field(t, "", pointer, strings.ReplaceAll(strings.Trim(pointer, "/"), "/", "."), doc, true)
}

type builder struct {
	Config
	raw   map[string]string
	wrong []models.FieldError
}

func (m builder) field(t reflect.Type, tag, pointer, path string, doc any, needed bool) Field {
	kind, oneof := m.kindOf(t, tag)
	f := Field{Pointer: pointer, Path: path, Kind: kind, Required: needed}
	for _, e := range m.wrong {
		if e.Pointer == pointer || (kind == Multi || kind == List) && strings.HasPrefix(e.Pointer, pointer+"/") {
			f.Wrong = append(f.Wrong, e)
		}
	}
	optional := t.Kind() == reflect.Pointer
	if optional {
		t = t.Elem()
	}
	if m.Hide != nil && m.Hide(path) {
		f.Kind = Hidden
	}
	if kind == Text || kind == Multi {
		if refs := m.references(path); refs != nil {
			f.Options = refs
			if kind == Text {
				f.Kind = Choice
			}
		}
	}
	for _, v := range oneof {
		f.Options = append(f.Options, Option{Value: v})
	}
	switch f.Kind {
	case Group:
		row, _ := doc.(map[string]any)
		f.Fields = m.members(t, pointer, path, row)
		for i := range f.Fields {
			f.Fields[i].Required = f.Fields[i].Required && !optional // the whole group may be left empty
		}
	case Rows:
		list, _ := doc.([]any)
		for i, x := range list {
			f.Fields = append(f.Fields, m.field(t.Elem(), "", fmt.Sprintf("%s/%d", pointer, i), path, x, true))
		}
	case Multi:
		list, _ := doc.([]any)
		f.Options = m.markChosen(f.Options, list...)
	case List:
		list, _ := doc.([]any)
		f.Required = false
		f.Unit, f.Value = m.listUnit(t, path), m.formatList(list, path)
	case Checkbox:
		f.On, _ = doc.(bool)
	case Number:
		f.Unit = m.scaleOf(path).unit
		if x, ok := doc.(float64); ok {
			f.Value = m.Writer.Typed(m.scaleOf(path).show(x))
		}
	case DateTime:
		f.Value = m.formatDateTime(doc)
	case Choice:
		f.Unit, f.Options = m.scaleOf(path).unit, m.markChosen(f.Options, doc)
	default:
		if doc != nil {
			f.Value = fmt.Sprint(doc)
		}
		if x, ok := doc.(float64); ok {
			f.Value = m.Writer.Typed(strconv.FormatFloat(x, 'f', -1, 64))
		}
	}
	if typed, ok := m.raw[pointer]; ok {
		f.Value = typed
	}
	return f
}

func (m builder) members(t reflect.Type, pointer, path string, doc map[string]any) (out []Field) {
	for i := range t.NumField() {
		sf := t.Field(i)
		name := jsonName(sf)
		at := path + "." + name
		if m.Skip != nil && m.Skip(at) {
			continue
		}
		needed := sf.Tag.Get("default") == "" && sf.Tag.Get("opt") == "" && sf.Type.Kind() != reflect.Pointer
		value, ok := doc[name]
		if !ok || value == nil {
			value = defaultValue(sf)
		}
		out = append(out, m.field(sf.Type, sf.Tag.Get("validate"), pointer+"/"+name, at, value, needed))
	}
	return out
}

func (m builder) references(path string) []Option {
	if m.References == nil {
		return nil
	}
	return slices.Clone(m.References(path))
}

// markChosen marks the chosen options. A choice that no longer exists is added, so that it can be seen and changed.
func (m builder) markChosen(options []Option, chosen ...any) []Option {
	for _, c := range chosen {
		value, _ := c.(string)
		if x, ok := c.(float64); ok {
			value = strconv.FormatFloat(x, 'f', -1, 64)
		}
		if value == "" {
			continue
		}
		i := slices.IndexFunc(options, func(o Option) bool { return o.Value == value })
		if i < 0 {
			options, i = append(options, Option{Value: value, Name: value}), len(options)
		}
		options[i].On = true
	}
	return options
}
