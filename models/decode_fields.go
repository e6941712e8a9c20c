package models

import (
	"encoding"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"github.com/go-json-experiment/json/jsontext"
)

// structFields is how the fields of a struct are read.
type structFields struct {
	fields []field
	byName map[string]int
}

type field struct {
	name     string
	index    []int
	read     reader
	accepted string
	preset   reflect.Value // of its default tag; not valid: it has none
	optional bool
	nullable bool          // may be null, but not left out
	inner    *structFields // of an optional struct, whose own defaults hold when it is left out
}

var fieldCache sync.Map // reflect.Type → *structFields

func fieldsOf(t reflect.Type) *structFields {
	if c, ok := fieldCache.Load(t); ok {
		return c.(*structFields)
	}
	fs := &structFields{byName: map[string]int{}}
	for _, sf := range reflect.VisibleFields(t) {
		name, _, _ := strings.Cut(sf.Tag.Get("json"), ",")
		if sf.Anonymous || name == "" || name == "-" {
			continue
		}
		fs.byName[name] = len(fs.fields)
		fs.fields = append(fs.fields, fieldOf(name, sf))
	}
	if len(fs.fields) > maxFields {
		panic(fmt.Sprintf("DecodeStrict reads structs of at most %d fields, %s has %d", maxFields, t, len(fs.fields)))
	}
	c, _ := fieldCache.LoadOrStore(t, fs)
	return c.(*structFields)
}

func fieldOf(name string, sf reflect.StructField) field {
	f := field{name: name, index: sf.Index, read: readerOf(sf.Type, mostEntries(sf)), accepted: accepted(sf.Type)}
	if text, ok := sf.Tag.Lookup("default"); ok {
		f.preset = presetOf(sf.Type, text)
	}
	kind := sf.Type.Kind()
	opt := sf.Tag.Get("opt")
	f.nullable = opt == "null"
	f.optional = opt == "true" || (opt != "false" && !f.nullable && (kind == reflect.Pointer || kind == reflect.Slice))
	if f.optional && kind == reflect.Struct && f.accepted == "an object" {
		f.inner = fieldsOf(sf.Type)
	}
	return f
}

// mostEntries returns the bound that a field's validate tag sets to a list.
func mostEntries(sf reflect.StructField) int {
	if sf.Type.Kind() != reflect.Slice {
		return noLimit
	}
	for rule := range strings.SplitSeq(sf.Tag.Get("validate"), ",") {
		if rule == "dive" { // what follows is about the entries
			break
		}
		if text, ok := strings.CutPrefix(rule, "max="); ok {
			most, err := strconv.Atoi(text)
			if err != nil {
				panic(fmt.Sprintf("the tag of %s: %v", sf.Name, err))
			}
			return most
		}
	}
	return noLimit
}

// presetOf returns the value of a default tag.
func presetOf(t reflect.Type, text string) reflect.Value {
	v := reflect.New(t).Elem()
	var err error
	switch into, ok := v.Addr().Interface().(encoding.TextUnmarshaler); {
	case ok:
		err = into.UnmarshalText([]byte(text))
	case t.Kind() == reflect.String:
		v.SetString(text)
	case t.Kind() == reflect.Bool:
		v.SetBool(text == "true")
	case t.Kind() == reflect.Float64:
		var f float64
		f, err = strconv.ParseFloat(text, 64)
		v.SetFloat(f)
	default:
		var n int64
		n, err = strconv.ParseInt(text, 10, 64)
		v.SetInt(n)
	}
	if err != nil {
		panic(fmt.Sprintf("the default %q of a %s: %v", text, t, err))
	}
	return v
}

// fieldSet holds which fields of a struct a document has given.
type fieldSet uint64

const maxFields = 64

func (s fieldSet) has(i int) bool { return s&(1<<i) != 0 }

func (fs *structFields) read(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindBeginObject {
		return d.misfit("an object")
	}
	if err := d.pass(); err != nil {
		return err
	}
	var given, valued fieldSet // valued: given and not null
	for d.dec.PeekKind() != jsontext.KindEndObject {
		raw, err := d.dec.ReadValue()
		if err != nil {
			return err
		}
		name := unquoted(raw)
		i, known := fs.byName[string(name)]
		switch {
		case !known:
			err = fs.unknown(d, string(name))
		case given.has(i):
			d.push(step{name: fs.fields[i].name})
			err = d.twice()
			d.pop()
		default:
			d.push(step{name: fs.fields[i].name})
			if d.dec.PeekKind() != jsontext.KindNull {
				valued |= 1 << i
			}
			err = fs.fields[i].given(d, v)
			d.pop()
			given |= 1 << i
		}
		if err != nil {
			return err
		}
	}
	if err := d.pass(); err != nil {
		return err
	}
	if err := fs.missing(d, v, given); err != nil {
		return err
	}
	if x, ok := v.Addr().Interface().(dependentDefaults); ok {
		x.setDependentDefaults(func(name string) bool {
			i, known := fs.byName[name]
			return known && valued.has(i)
		})
	}
	return nil
}

// dependentDefaults is a struct with defaults that depend on its other fields. given reports whether the document has a value for a
// field.
type dependentDefaults interface {
	setDependentDefaults(given func(name string) bool)
}

func (fs *structFields) unknown(d *decoder, name string) error {
	d.push(step{name: escape(name)})
	defer d.pop()
	if err := d.skip(); err != nil {
		return err
	}
	if len(fs.fields) == 0 {
		return d.fail("an object without fields", "unknown field")
	}
	names := make([]string, len(fs.fields))
	for i := range fs.fields {
		names[i] = fs.fields[i].name
	}
	return d.fail("one of "+strings.Join(names, ", "), "unknown field")
}

// twice passes over a field that was given before. Which of the two was meant, nobody can know.
func (d *decoder) twice() error {
	if err := d.skip(); err != nil {
		return err
	}
	return d.fail("each field once", "this field is given twice")
}

// given reads a field of v that the document has.
func (f *field) given(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindNull {
		return d.value(f.read, v.FieldByIndex(f.index))
	}
	if err := d.pass(); err != nil {
		return err
	}
	if f.mayBeLeftOut() || f.nullable {
		return f.leaveOut(d, v)
	}
	return d.fail(f.accepted, "null is not allowed here")
}

// missing sets the fields of v that the document has not given.
func (fs *structFields) missing(d *decoder, v reflect.Value, given fieldSet) error {
	for i := range fs.fields {
		if given.has(i) {
			continue
		}
		f := &fs.fields[i]
		d.push(step{name: f.name})
		var err error
		if f.mayBeLeftOut() {
			err = f.leaveOut(d, v)
		} else {
			err = d.fail(f.accepted, "this field is missing")
			d.faults[len(d.faults)-1].Rule = RuleMissing
		}
		if err != nil {
			return err
		}
		d.pop()
	}
	return nil
}

func (f *field) mayBeLeftOut() bool { return f.preset.IsValid() || f.optional }

func (f *field) leaveOut(d *decoder, v reflect.Value) error {
	v = v.FieldByIndex(f.index)
	switch {
	case f.preset.IsValid():
		v.Set(f.preset)
	case f.inner != nil:
		return f.inner.missing(d, v, 0)
	default:
		v.SetZero()
	}
	return nil
}
