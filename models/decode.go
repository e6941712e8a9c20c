package models

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"

	"github.com/go-json-experiment/json/jsontext"
)

// Limits of a JSON document. They are held while it is read, so that no document takes much more memory than its own bytes. A list
// is bounded by the "max" of its field's validate tag besides.
const (
	MaxDocument = 16 << 20  // bytes
	maxValues   = 2_000_000 // lists, objects, texts, numbers … in all
	maxDepth    = 64        // lists and objects inside each other

	decodedBase    = 64 << 10
	decodedPerByte = 5
)

// MaxDecoded is how much memory reading a document of so many bytes takes at most beside them. Real documents take less
// than half of it.
func MaxDecoded(bytes int64) int64 { return decodedBase + decodedPerByte*bytes }

// DecodeStrict reads one JSON document (RFC 8259, in UTF-8) into the struct that v points to. Every unknown field, missing field,
// field given twice, wrong type, number that is not finite and instant outside the range of ValidInstant is named by its JSON
// pointer in one CodeMalformed *Error, so that a person can mend all of them at once. Text that is not JSON is named by its line
// and column besides. A document over a limit and without such a fault is CodeTooLarge.
//
// Field tags: `default:"2.1"` may be left out or null and then has that value; pointers, slices and fields tagged `opt:"true"` may
// be left out or null and are then empty; a pointer tagged `opt:"null"` must be there and may be null; every other field must be there. `validate:"max=500,dive"` bounds a list.
func DecodeStrict(data []byte, v any) error {
	if len(data) > MaxDocument {
		return &Error{Code: CodeTooLarge, Message: "the document is too large", Fields: []FieldError{{
			Detail: fmt.Sprintf("the document has %d bytes", len(data)), Accepted: fmt.Sprintf("at most %d MiB", MaxDocument>>20)}}}
	}
	d := &decoder{data: data, dec: jsontext.NewDecoder(bytes.NewBuffer(data), jsontext.AllowDuplicateNames(true))}
	target := reflect.ValueOf(v).Elem()
	err := d.value(readerOf(target.Type(), noLimit), target)
	if err == nil {
		err = d.end()
	}
	return d.outcome(err)
}

// maxFieldErrors bounds one answer: a document that is wrong throughout is said to be so without a megabyte of errors.
const maxFieldErrors = 50

// errEnough ends the reading of a document that is over a limit, or has more faults than an answer holds.
var errEnough = errors.New("enough was read")

// decoder reads one document. It looks for fields given twice itself, since jsontext stops at the first.
type decoder struct {
	data      []byte
	dec       *jsontext.Decoder
	path      []step // of the value being read
	values    int    // read so far
	memory    int64  // taken so far
	faults    []FieldError
	malformed bool // some fault is not just a limit
	instants  instants
}

// fail notes that the value being read cannot be used. It returns errEnough when there is no room for more faults.
func (d *decoder) fail(accepted, format string, args ...any) error {
	d.malformed = true
	return d.fault(d.pointer(), accepted, format, args...)
}

func (d *decoder) fault(pointer, accepted, format string, args ...any) error {
	d.faults = append(d.faults, FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	if len(d.faults) >= maxFieldErrors {
		return errEnough
	}
	return nil
}

// value counts a value and reads it.
func (d *decoder) value(read reader, v reflect.Value) error {
	if err := d.count(); err != nil {
		return err
	}
	return read(d, v)
}

func (d *decoder) count() error {
	d.values++
	if d.values <= maxValues {
		return nil
	}
	_ = d.fault("", fmt.Sprintf("at most %d", maxValues), "the document has more than %d values", maxValues)
	return errEnough
}

// take counts memory before it is allocated.
func (d *decoder) take(bytes int) error {
	d.memory += int64(bytes)
	if most := MaxDecoded(int64(len(d.data))); d.memory > most {
		_ = d.fault(d.pointer(), "fewer entries that leave most of their fields out", "the document takes more than %d KiB of memory once it is read", most>>10)
		return errEnough
	}
	return nil
}

// end wants nothing after the document.
func (d *decoder) end() error {
	rest := bytes.TrimLeft(d.data[d.dec.InputOffset():], " \t\r\n")
	if len(rest) == 0 {
		return nil
	}
	return &surplus{len(d.data) - len(rest)}
}

// surplus is text after the end of a document, from a byte on.
type surplus struct{ from int }

func (*surplus) Error() string { return "there is something after the end of the document" }

// outcome makes one error of all that was found; err says why the reading stopped before the end.
func (d *decoder) outcome(err error) error {
	var (
		notJSON *jsontext.SyntacticError
		extra   *surplus
	)
	switch {
	case errors.Is(err, io.EOF):
		return Errorf(CodeMalformed, "the document is empty")
	case errors.As(err, &notJSON):
		at := FieldError{Pointer: shortPointer(notJSON.JSONPointer), Detail: syntaxFault(notJSON.Err) + ", at " + place(d.data, int(notJSON.ByteOffset))}
		return &Error{Code: CodeMalformed, Message: "the document is not JSON", Fields: slices.Insert(d.faults, 0, at)}
	case errors.As(err, &extra):
		at := FieldError{Detail: "found more at " + place(d.data, extra.from), Accepted: "one document"}
		return &Error{Code: CodeMalformed, Message: extra.Error(), Fields: slices.Insert(d.faults, 0, at)}
	case d.malformed:
		return &Error{Code: CodeMalformed, Message: "the document cannot be read", Fields: d.faults}
	case len(d.faults) > 0:
		return &Error{Code: CodeTooLarge, Message: "the document is too long", Fields: d.faults}
	}
	return nil
}

func syntaxFault(err error) string {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return "the document ends too early"
	}
	return err.Error()
}
