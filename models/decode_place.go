package models

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// step is a field's name, or an index of a list where there is no name.
type step struct {
	name  string
	index int
}

func (d *decoder) push(s step) { d.path = append(d.path, s) }
func (d *decoder) pop()        { d.path = d.path[:len(d.path)-1] }

// pointer returns the JSON pointer (RFC 6901) of the value being read.
func (d *decoder) pointer() string {
	var b strings.Builder
	for _, s := range d.path {
		b.WriteByte('/')
		if s.name == "" {
			b.WriteString(strconv.Itoa(s.index))
		} else {
			b.WriteString(s.name)
		}
	}
	return b.String()
}

// shortPointer returns p with each name cut to a length that a person can read.
func shortPointer(p jsontext.Pointer) string {
	var b strings.Builder
	for name := range p.Tokens() {
		b.WriteString("/" + escape(name))
	}
	return b.String()
}

// PointerToken escapes a code or name for a JSON pointer (RFC 6901).
func PointerToken(s string) string { return strings.NewReplacer("~", "~0", "/", "~1").Replace(s) }

// escape makes one reference token of a JSON pointer of a field name.
func escape(name string) string {
	return PointerToken(short(name))
}

// short cuts a text to 60 characters.
func short(s string) string {
	n := 0
	for i := range s {
		if n == 60 {
			return s[:i] + "…"
		}
		n++
	}
	return s
}

// place names a byte of a document by its line and its character in that line, both from 1.
func place(data []byte, offset int) string {
	before := data[:min(offset, len(data))]
	line := before[bytes.LastIndexByte(before, '\n')+1:]
	return fmt.Sprintf("line %d, column %d", bytes.Count(before, []byte("\n"))+1, utf8.RuneCount(line)+1)
}
