// Package form turns a document of the programming interface into the fields of a page, in the units of its site, and what a
// person typed back into that document. It reads both from the Go type of the document: the JSON names, the choices of the
// validator's oneof, what may be left out. Nothing here knows a page or a store.
package form

import (
	"reflect"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say/quantity"
)

// Kinds of a Field.
const (
	Text   = "text"
	Number = "number"
	Clock  = "clock"
	Day    = "day"
	Moment = "moment" // a date and a time of day in the Way's zone
	Choice = "choice" // one of Options
	Many   = "many"   // any of Options
	Yes    = "yes"    // a box to tick
	Kept   = "kept"   // not shown; goes back as it came
	Group  = "group"  // Fields
	Rows   = "rows"   // each of Fields is a Group
)

// Field is one control of a page, or a group of them.
type Field struct {
	Pointer string // JSON pointer in the document; the control's name
	Path    string // the pointer without places in lists, by points: "beverages.ratio"
	Kind    string
	Value   string
	On      bool
	Unit    string
	Options []Option
	Needed  bool // may not be left empty
	Wrong   []models.FieldError
	Fields  []Field
}

// Option is one choice. Value "" is none.
type Option struct {
	Value, Name string
	On          bool
}

// Way is how a page wants its fields. Any of the functions may be nil.
type Way struct {
	Writer   quantity.Writer
	Zone     *time.Location // of moments, which are kept without one
	Currency string
	Decimals int                        // of the currency
	Skip     func(path string) bool     // fields that the page leaves out: their value stays
	Keep     func(path string) bool     // fields that go through unseen
	Refs     func(path string) []Option // the choices of a field that names another thing of the document; nil: it names none
}

// typeOf follows a pointer without places in lists ("/site/day_parts") from a type.
func typeOf(t reflect.Type, pointer string) reflect.Type {
	for _, name := range names(pointer) {
		for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		for i := range t.NumField() {
			if jsonName(t.Field(i)) == name {
				t = t.Field(i).Type
				break
			}
		}
	}
	return t
}

func jsonName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

// kindOf is the kind of control of a type, and the choices of its oneof.
func (w Way) kindOf(t reflect.Type, tag string) (kind string, oneof []string) {
	kind, oneof = kindOf(t, tag)
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t == reflect.TypeFor[time.Time]() && w.Zone != nil {
		kind = Moment
	}
	return kind, oneof
}

func kindOf(t reflect.Type, tag string) (kind string, oneof []string) {
	for _, rule := range strings.Split(tag, ",") {
		if list, ok := strings.CutPrefix(rule, "oneof="); ok {
			oneof = strings.Fields(list)
		}
	}
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t == reflect.TypeFor[models.Clock]():
		return Clock, nil
	case t == reflect.TypeFor[models.Date]():
		return Day, nil
	case t == reflect.TypeFor[time.Time]():
		return Kept, nil
	case t.Kind() == reflect.Bool:
		return Yes, nil
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct:
		return Rows, nil
	case t.Kind() == reflect.Slice:
		return Many, oneof
	case t.Kind() == reflect.Struct:
		return Group, nil
	case oneof != nil:
		return Choice, oneof
	case t.Kind() == reflect.String:
		return Text, nil
	}
	return Number, nil
}
