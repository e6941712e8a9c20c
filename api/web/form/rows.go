package form

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// IsRows reports whether a list of rows, in a document of type whole, is at a pointer.
func IsRows(whole reflect.Type, pointer string) bool {
	t := typeOf(whole, pointer)
	kind, _ := kindOf(t, "")
	return kind == Rows
}

// At returns the value at a JSON pointer in generic JSON, nil if there is none.
func At(doc any, pointer string) any {
	for _, name := range pointerNames(pointer) {
		switch v := doc.(type) {
		case map[string]any:
			doc = v[name]
		case []any:
			i, err := strconv.Atoi(name)
			if err != nil || i < 0 || i >= len(v) {
				return nil
			}
			doc = v[i]
		default:
			return nil
		}
	}
	return doc
}

// Put sets the value at a pointer. Its parent must exist.
func Put(doc any, pointer string, value any) {
	at := strings.LastIndexByte(pointer, '/')
	parent, name := At(doc, pointer[:at]), pointer[at+1:]
	switch v := parent.(type) {
	case map[string]any:
		v[name] = value
	case []any:
		if i, err := strconv.Atoi(name); err == nil && i >= 0 && i < len(v) {
			v[i] = value
		}
	}
}

// Add appends a row to the list at a pointer, which may be missing, and returns the row's pointer.
func Add(doc any, pointer string, row any) string {
	list, _ := At(doc, pointer).([]any)
	Put(doc, pointer, append(list, row))
	return pointer + "/" + strconv.Itoa(len(list))
}

// Remove removes a row from its list.
func Remove(doc any, pointer string) {
	list, i, ok := rowAt(doc, pointer)
	if ok {
		Put(doc, pointer[:strings.LastIndexByte(pointer, '/')], append(list[:i:i], list[i+1:]...))
	}
}

// Copy inserts a copy of a row after it, with a new code.
func Copy(doc any, pointer string) {
	list, i, ok := rowAt(doc, pointer)
	if !ok {
		return
	}
	twin := deepCopy(list[i])
	if row, ok := twin.(map[string]any); ok {
		if code, ok := row["code"].(string); ok {
			row["code"] = freeCode(list, code)
		}
	}
	out := append(list[:i+1:i+1], twin)
	Put(doc, pointer[:strings.LastIndexByte(pointer, '/')], append(out, list[i+1:]...))
}

func rowAt(doc any, pointer string) (list []any, i int, ok bool) {
	at := strings.LastIndexByte(pointer, '/')
	if at < 0 {
		return nil, 0, false
	}
	list, _ = At(doc, pointer[:at]).([]any)
	i, err := strconv.Atoi(pointer[at+1:])
	return list, i, err == nil && i >= 0 && i < len(list)
}

func freeCode(list []any, code string) string {
	for n := 2; ; n++ {
		name := fmt.Sprintf("%s-%d", code, n)
		taken := false
		for _, x := range list {
			row, _ := x.(map[string]any)
			taken = taken || row["code"] == name
		}
		if !taken {
			return name
		}
	}
}

func deepCopy(x any) any {
	switch v := x.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for k, y := range v {
			out[k] = deepCopy(y)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i, y := range v {
			out[i] = deepCopy(y)
		}
		return out
	}
	return x
}

// Same reports whether two documents are equivalent: null, an empty list and a missing field are the same.
func Same(a, b any) bool { return reflect.DeepEqual(normalise(a), normalise(b)) }

func normalise(x any) any {
	switch v := x.(type) {
	case map[string]any:
		out := make(map[string]any, len(v))
		for k, y := range v {
			if y = normalise(y); y != nil {
				out[k] = y
			}
		}
		return out
	case []any:
		if len(v) == 0 {
			return nil
		}
		out := make([]any, len(v))
		for i, y := range v {
			out[i] = normalise(y)
		}
		return out
	}
	return x
}

func pointerNames(pointer string) []string {
	p := strings.Trim(pointer, "/")
	if p == "" {
		return nil
	}
	return strings.Split(p, "/")
}
