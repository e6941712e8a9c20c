// Package form converts an API document to the fields of a page, in the site's units, and a submitted form back to the document. Both
// are derived from the document's Go type: JSON names, the validator's oneof choices, optional fields. It knows no page and no store.
package form

import (
	"reflect"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Kinds of a Field.
const (
	Text     = "text"
	Number   = "number"
	Clock    = "clock"
	Day      = "day"
	DateTime = "moment" // date and time in Config.Zone
	Choice   = "choice" // one of Options
	Multi    = "many"   // any of Options
	List     = "list"   // values of one kind, separated by semicolons
	Checkbox = "yes"
	Hidden   = "kept"  // a hidden input
	Group    = "group" // Fields
	Rows     = "rows"  // each of Fields is a Group
)

// Field is a control of a page, or a group of them.
type Field struct {
	Pointer  string // JSON pointer in the document; the control's name
	Path     string // dotted, without list indexes: "beverages.ratio"
	Kind     string
	Value    string
	On       bool
	Unit     string
	Options  []Option
	Required bool // may not be left empty
	Wrong    []models.FieldError
	Fields   []Field
}

// Option is a choice. Value "" means none.
type Option struct {
	Value, Name string
	On          bool
}

// Config configures a page's fields. The functions may be nil.
type Config struct {
	Writer     say.Writer
	Zone       *time.Location // of DateTime fields; nil: times are hidden inputs
	Currency   string
	Decimals   int                        // of Currency
	Skip       func(path string) bool     // fields not on the page; they keep their stored value
	Hide       func(path string) bool     // fields to pass through hidden inputs
	References func(path string) []Option // choices of a field that refers to another part of the document; nil result: not a reference
}

// typeOf resolves a JSON pointer from a type, with or without list indexes: "/site/day_parts", "/drinks/0/uses".
func typeOf(t reflect.Type, pointer string) reflect.Type {
	for _, name := range pointerNames(pointer) {
		for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return t // nothing is inside
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

// kindOf returns the kind of control for a type, and its oneof choices.
func (w Config) kindOf(t reflect.Type, tag string) (kind string, oneof []string) {
	kind, oneof = kindOf(t, tag)
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t == reflect.TypeFor[time.Time]() && w.Zone != nil {
		kind = DateTime
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
		return Hidden, nil
	case t.Kind() == reflect.Bool:
		return Checkbox, nil
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct:
		return Rows, nil
	case t.Kind() == reflect.Slice && oneof == nil && !strings.HasSuffix(tag, ",code"):
		return List, nil
	case t.Kind() == reflect.Slice:
		return Multi, oneof
	case t.Kind() == reflect.Struct:
		return Group, nil
	case oneof != nil:
		return Choice, oneof
	case t.Kind() == reflect.String:
		return Text, nil
	}
	return Number, nil
}
