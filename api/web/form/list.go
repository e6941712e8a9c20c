package form

import (
	"reflect"
	"strings"
)

// listSeparator separates the values of a List in its field. It is a semicolon since a comma may be a decimal comma.
const listSeparator = ";"

// listUnit is the unit of a list of numbers, "" for texts.
func (w Config) listUnit(t reflect.Type, path string) string {
	if t.Elem().Kind() == reflect.String {
		return ""
	}
	return w.scaleOf(path).unit
}

func (w Config) formatList(list []any, path string) string {
	var out []string
	for _, x := range list {
		switch x := x.(type) {
		case float64:
			out = append(out, w.scaleOf(path).show(x))
		case string:
			out = append(out, x)
		}
	}
	return strings.Join(out, listSeparator+" ")
}

// list reads the values of a List. A list of texts may also be separated by commas.
func (r *reader) list(t reflect.Type, text, pointer, path string) []any {
	out := []any{}
	words := t.Elem().Kind() == reflect.String
	if words {
		text = strings.ReplaceAll(text, ",", listSeparator)
	}
	for _, part := range strings.Split(text, listSeparator) {
		switch part = strings.TrimSpace(part); {
		case part == "":
		case words:
			out = append(out, part)
		default:
			if x := r.number(part, pointer, path); x != nil {
				out = append(out, x)
			} else {
				r.raw[pointer] = text // as typed, not just the part at fault
			}
		}
	}
	return out
}
