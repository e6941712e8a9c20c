package models

import (
	"bytes"
	"encoding"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"
)

// reader reads the next value of a document into v. It notes what is wrong with the value and returns an error only where the
// reading must end.
type reader func(d *decoder, v reflect.Value) error

const noLimit = math.MaxInt

// namedText is a text with a form of its own.
type namedText interface {
	encoding.TextUnmarshaler
	accepts() string
}

// readerOf returns how a type is read; most bounds a list. It panics at types that documents do not have.
func readerOf(t reflect.Type, most int) reader {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return readInstant
	case reflect.PointerTo(t).Implements(reflect.TypeFor[namedText]()):
		return readNamedText
	}
	switch t.Kind() {
	case reflect.Pointer:
		return pointerReader(readerOf(t.Elem(), most))
	case reflect.Struct:
		return fieldsOf(t).read
	case reflect.Slice:
		return listReader(t, most)
	case reflect.String:
		return readText
	case reflect.Bool:
		return readBool
	case reflect.Float64:
		return readNumber
	case reflect.Int, reflect.Int64:
		return readWhole
	}
	panic("DecodeStrict does not read values of type " + t.String())
}

// accepted says what a type takes.
func accepted(t reflect.Type) string {
	if t == reflect.TypeFor[time.Time]() {
		return "a time as in RFC 3339, with its offset: 2026-07-11T07:00:00+02:00"
	}
	if text, ok := reflect.New(t).Interface().(namedText); ok {
		return text.accepts()
	}
	switch t.Kind() {
	case reflect.Pointer:
		return accepted(t.Elem()) + ", or null"
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
	case reflect.Struct:
		return "an object"
	}
	return ""
}

func pointerReader(read reader) reader {
	return func(d *decoder, v reflect.Value) error {
		if d.dec.PeekKind() == jsontext.KindNull {
			v.SetZero()
			return d.pass()
		}
		v.Set(reflect.New(v.Type().Elem()))
		return read(d, v.Elem())
	}
}

func listReader(t reflect.Type, most int) reader {
	read, empty := readerOf(t.Elem(), noLimit), reflect.MakeSlice(t, 0, 0)
	return func(d *decoder, v reflect.Value) error {
		switch d.dec.PeekKind() {
		case jsontext.KindBeginArray:
		case jsontext.KindNull:
			if len(d.path) == 0 { // a document of its own says what it holds
				return d.misfit("a list")
			}
			v.Set(empty)
			return d.pass()
		default:
			return d.misfit("a list")
		}
		if err := d.pass(); err != nil {
			return err
		}
		v.Set(empty)
		n := 0
		for ; d.dec.PeekKind() != jsontext.KindEndArray; n++ {
			if n >= most { // read over, so that what is wrong behind it is found too
				if err := d.skip(); err != nil {
					return err
				}
				continue
			}
			if n == v.Cap() {
				v.Grow(max(n, 4))
			}
			v.SetLen(n + 1)
			d.push(step{index: n})
			if err := d.value(read, v.Index(n)); err != nil {
				return err
			}
			d.pop()
		}
		if n > most {
			if err := d.fault(d.pointer(), fmt.Sprintf("at most %d", most), "the list has %d entries", n); err != nil {
				return err
			}
		}
		return d.pass()
	}
}

func readInstant(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindString {
		return d.misfit(accepted(v.Type()))
	}
	raw, err := d.dec.ReadValue()
	if err != nil {
		return err
	}
	text := unquoted(raw)
	t, ok := d.instants.read(text)
	switch {
	case !ok:
		return d.fail(accepted(v.Type()), "%q cannot be used here", short(string(text)))
	case !ValidInstant(t):
		return d.fail(InstantRange, "%s is out of range", text)
	}
	*v.Addr().Interface().(*time.Time) = t
	return nil
}

func readNamedText(d *decoder, v reflect.Value) error {
	into := v.Addr().Interface().(namedText)
	if d.dec.PeekKind() != jsontext.KindString {
		return d.misfit(into.accepts())
	}
	raw, err := d.dec.ReadValue()
	if err != nil {
		return err
	}
	text := unquoted(raw)
	if into.UnmarshalText(text) != nil {
		return d.fail(into.accepts(), "%q cannot be used here", short(string(text)))
	}
	return nil
}

func readText(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindString {
		return d.misfit("text")
	}
	raw, err := d.dec.ReadValue()
	if err == nil {
		v.SetString(string(unquoted(raw)))
	}
	return err
}

func readBool(d *decoder, v reflect.Value) error {
	switch d.dec.PeekKind() {
	case jsontext.KindTrue:
		v.SetBool(true)
	case jsontext.KindFalse:
		v.SetBool(false)
	default:
		return d.misfit("true or false")
	}
	return d.pass()
}

func readNumber(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindNumber {
		return d.misfit("a number")
	}
	raw, err := d.dec.ReadValue()
	if err != nil {
		return err
	}
	f, err := strconv.ParseFloat(string(raw), 64)
	if err != nil { // larger than a number can be
		return d.fail("a number", "found %s", scalar(raw))
	}
	v.SetFloat(f)
	return nil
}

func readWhole(d *decoder, v reflect.Value) error {
	if d.dec.PeekKind() != jsontext.KindNumber {
		return d.misfit("a whole number")
	}
	raw, err := d.dec.ReadValue()
	if err != nil {
		return err
	}
	f, err := strconv.ParseFloat(string(raw), 64)
	if err != nil || f != math.Trunc(f) || math.Abs(f) > 1<<53 {
		return d.fail("a whole number", "found %s", scalar(raw))
	}
	v.SetInt(int64(f))
	return nil
}

// pass passes over one token.
func (d *decoder) pass() error {
	_, err := d.dec.ReadToken()
	return err
}

// skip passes over the next value whole.
func (d *decoder) skip() error {
	for outside := d.dec.StackDepth(); ; {
		t, err := d.dec.ReadToken()
		if err != nil {
			return err
		}
		depth := d.dec.StackDepth()
		if depth > maxDepth {
			_ = d.fail(fmt.Sprintf("at most %d lists and objects inside each other", maxDepth), "this is nested too deeply")
			return errEnough
		}
		if k := t.Kind(); k != jsontext.KindEndObject && k != jsontext.KindEndArray {
			if err := d.count(); err != nil {
				return err
			}
		}
		if depth == outside {
			return nil
		}
	}
}

// misfit notes that the next value is of the wrong kind, and passes over it.
func (d *decoder) misfit(accepted string) error {
	found := "an object"
	switch d.dec.PeekKind() {
	case jsontext.KindBeginArray:
		found = "a list"
	case jsontext.KindBeginObject:
	default:
		raw, err := d.dec.ReadValue()
		if err != nil {
			return err
		}
		return d.fail(accepted, "found %s", scalar(raw))
	}
	if err := d.skip(); err != nil {
		return err
	}
	return d.fail(accepted, "found %s", found)
}

func scalar(raw jsontext.Value) string {
	switch raw.Kind() {
	case jsontext.KindNull:
		return "null"
	case jsontext.KindTrue, jsontext.KindFalse:
		return "true or false"
	case jsontext.KindNumber:
		return "the number " + short(string(raw))
	}
	return "the text " + strconv.Quote(short(string(unquoted(raw))))
}

// unquoted returns the text of a JSON string. It holds until the next value is read.
func unquoted(raw jsontext.Value) []byte {
	inner := raw[1 : len(raw)-1]
	if bytes.IndexByte(inner, '\\') < 0 {
		return inner
	}
	text, _ := jsontext.AppendUnquote(nil, raw) // cannot fail: the value has been checked
	return text
}
